"""A report that was kept, opened again: what its words rest on, for questions after rating.

A kept report holds no sound. What it holds of each note is enough to find again the notes its
own words count, by the very same finders.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from standlight.criteria.values import Reading
from standlight.score.values import Passage
from standlight.sound.targets import EQUAL_TEMPERAMENT, PitchTarget
from standlight.sound.values import AddedSound, HeardNote, Performance, Resumed


@dataclass(frozen=True, slots=True)
class HeardOn:
    """On what terms a report was made, as far as its words depend on it.

    ``onset_tolerance_ms`` is what an entry of this kind of sound may be off before it is worth
    words; ``marked_tempo_qpm`` the tempo of the check in quarters a minute.
    """

    onset_tolerance_ms: float
    marked_tempo_qpm: float
    sung: bool = False
    target: PitchTarget = EQUAL_TEMPERAMENT


@dataclass(frozen=True, slots=True, eq=False)
class KeptReport:
    """The followed take and its readings, with the codes of its verdicts."""

    performance: Performance
    readings: tuple[Reading, ...]
    cautions: frozenset[str]
    together: bool = False

    def reading(self, criterion: str, name: str) -> Reading | None:
        """The reading of that name with a figure, ``None`` where there is none."""
        for one in self.readings:
            if (one.criterion, one.name) == (criterion, name) and one.value is not None:
                return one
        return None

    def sentences(self, criterion: str) -> tuple[str, ...]:
        """What the readings of one criterion say."""
        return tuple(one.sentence for one in self.readings if one.criterion == criterion)


def kept_report(body: Mapping[str, Any], passage: Passage, terms: HeardOn) -> KeptReport | None:
    """The report ``body`` (``listening.report_as_json``) against ``passage``.

    ``None`` when it has other notes than the passage: the passage was moved since.
    """
    together = bool(body.get("together"))
    rows = body.get("notes", ())
    if not together and [row["index"] for row in rows] != list(range(len(passage.notes))):
        return None
    performance = Performance(
        passage=passage,
        notes=tuple(HeardNote(**dict(row)) for row in rows),
        added=tuple(AddedSound(**dict(row)) for row in _list(body, "added")),
        restarts=tuple(Resumed(row["onset_s"], row["to_index"]) for row in _list(body, "restarts")),
        attempts=(),
        shift_semitones=0,
        tuning_cents=body.get("tuning_cents"),
        tuning_se_cents=None,
        tempo_qpm=body.get("tempo_qpm"),
        tempo_drift_percent=None,
        tempo_drift_se_percent=None,
        marked_tempo_qpm=terms.marked_tempo_qpm,
        # What follows tells how well the take fits: words about notes do not rest on it.
        fit=1.0,
        explained_share=1.0,
        seconds=body.get("seconds", 0.0),
        sounding_share=1.0,
        median_confidence=1.0,
        onset_tolerance_ms=terms.onset_tolerance_ms,
        sung=terms.sung,
        target=terms.target,
        left_out=frozenset(body.get("left_out", ())),
        seams=frozenset(body.get("seams", ())),
        prolonged=frozenset(body.get("prolonged", ())),
    )
    return KeptReport(
        performance,
        tuple(Reading(**dict(row)) for row in _list(body, "readings")),
        frozenset(row["code"] for row in _list(body, "verdicts")),
        together,
    )


def _list(body: Mapping[str, Any], name: str) -> list[Mapping[str, Any]]:
    """A list of the report, empty where an early edition has none."""
    return list(body.get(name, ()))
