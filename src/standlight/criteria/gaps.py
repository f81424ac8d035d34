"""Breaths and gaps between phrases: where the sound stopped, against rests and breath marks."""

from __future__ import annotations

from dataclasses import dataclass

from standlight.criteria.places import where
from standlight.criteria.values import Reading
from standlight.passages import counted
from standlight.sound.values import Performance

SHORTEST_GAP_S = 0.15
"""A silence from here on is a gap: room for a quick breath (our choice)."""

LEAST_GAP_SHARE = 0.25
"""A gap must also take this share of the written length of the note before it (our choice):
a cleanly ended note is no gap."""

FEWEST_NOTES = 6
"""Fewer pairs of neighbouring notes say nothing about gaps (our choice)."""

SHORTENED = frozenset({"staccato", "marcato"})
"""Notes with these marks end early by themselves."""

BREATHS = frozenset({"breath_after"})


@dataclass(frozen=True, slots=True)
class Gap:
    """The step from note ``index`` to the next one; ``open`` when a silence is heard in it.

    ``written`` is ``rest``, ``breath mark`` or empty where the music goes on.
    """

    index: int
    seconds: float
    open: bool
    written: str


def gaps_of(performance: Performance) -> tuple[Gap, ...]:
    """Every step between two neighbouring written notes that were both heard, in order."""
    notes = performance.passage.notes
    resumed = performance.begun_anew
    quarter_s = 60.0 / (performance.tempo_qpm or performance.marked_tempo_qpm)
    found = []
    for before, after in zip(performance.notes, performance.notes[1:], strict=False):
        if before.offset_s is None or after.onset_s is None or after.index in resumed:
            continue
        written = notes[before.index]
        if written.marks & SHORTENED or after.onset_s <= (before.onset_s or 0.0):
            continue
        ends = written.onset_quarters + written.duration_quarters
        rests = notes[after.index].onset_quarters > ends
        kind = "rest" if rests else "breath mark" if written.marks & BREATHS else ""
        silent_s = after.onset_s - before.offset_s
        least_s = max(
            SHORTEST_GAP_S, LEAST_GAP_SHARE * float(written.duration_quarters) * quarter_s
        )
        found.append(Gap(before.index, silent_s, silent_s >= least_s, kind))
    return tuple(found)


def gaps(key: str, performance: Performance) -> tuple[Reading, ...]:
    """Gaps where none is written, and written breaths that are heard; counts without interval."""
    name = "gaps where none is written"
    if performance.unpitched:
        because = "strokes end by themselves, so gaps between them say nothing"
        return (Reading(key, name, None, None, None, "gaps", 0, because=because),)
    found = gaps_of(performance)
    if len(found) < FEWEST_NOTES:
        because = f"only {len(found)} neighbouring notes heard; {FEWEST_NOTES} are needed"
        return (Reading(key, name, None, None, None, "gaps", len(found), because=because),)
    unwritten = [gap for gap in found if gap.open and not gap.written]
    marked = [gap for gap in found if gap.written == "breath mark"]
    readings = [
        Reading(
            key, name, float(len(unwritten)), None, None, "gaps", len(found),
            because="a count has no interval", sentence=_gap_words(performance, unwritten),
        )
    ]  # fmt: skip
    if marked:
        heard = sum(gap.open for gap in marked)
        readings.append(
            Reading(
                key, "breath marks with a gap", float(heard), None, None, "gaps", len(marked),
                because="a count has no interval",
                sentence=f"A gap is heard at {heard} of {len(marked)} breath marks.",
            )
        )  # fmt: skip
    return tuple(readings)


def _gap_words(performance: Performance, unwritten: list[Gap]) -> str:
    """The gaps that are not written, counted, with the measures of the longest three."""
    if not unwritten:
        return "The sound stops only where rests or breath marks are."
    longest = sorted(unwritten, key=lambda gap: -gap.seconds)[:3]
    measures = sorted({performance.passage.notes[gap.index].measure for gap in longest})
    words = counted(len(unwritten), "gap", "gaps")
    return (
        f"{words[0].upper()}{words[1:]} where none is written, "
        f"{where(performance.passage, measures)}."
    )
