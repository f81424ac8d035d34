"""Where a level and what was read point different ways: a question to the rater, never a change.

Both ways: a high level beside clear trouble, a low level beside a clean take. A row of `DOUBTS`
says for which levels which look at the kept report is worth a question. Every look stands on the
threshold of the readings' own words, and is silent where they are silent or unsure. Criteria
that are for the ear have no row, and neither has what the readings draw no line in (the evenness
of strokes). Level 4 is doubted by trouble its descriptor rules out, level 3 by more than its
"slip or two", levels 1 and 2 only by a take in which nothing at all is off.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np

from standlight.criteria import articulation, dynamics, intonation, notes, pulse, rhythm
from standlight.criteria.kept import KeptReport
from standlight.criteria.limits import NOTE_CENTS, SURE_PROBABILITY
from standlight.criteria.places import printed, where
from standlight.criteria.values import Criterion, Reading, Trouble
from standlight.music import LOUDNESS_ORDER
from standlight.passages import counted
from standlight.score.values import Passage
from standlight.sound.curves import stops_of

MOST_QUESTIONS = 2
"""Questions after one take: more would make every take a second hearing (our choice)."""

FEWEST_FINDINGS = 3
"""Notes of one kind of trouble that make it worth a question: one or two may be the listening's
own slip (our choice)."""

MANY_SHARE = 0.25
"""Share of the notes in trouble that is more than level 3's "slip or two" (our choice)."""

CLEAR_SIZE = 2.0
"""Trouble of this size is said without "a little": twice the threshold of being noticeable."""

FEWEST_CLEAN = 12
"""Notes that must all be clean before a low level is doubted: of fewer a take shows too little
(our choice, twice what the reading of rhythm asks for)."""

CLEAN_SHARE = 0.9
"""Share of the written notes that a clean take must really have been read in (our choice)."""

UNSURE = frozenset(
    {
        "noisy", "other_sounds", "damaged", "narrow_band", "cut_off", "cut_off_start",
        "stopped_early", "octave", "transposed", "several_at_once", "mixed_notes",
    }
)  # fmt: skip
"""Verdicts beside which nothing is asked: readings are less sure, part of the take is missing, or
the verdict itself says what the rater may have heard."""

LOUDNESS_UNSURE = frozenset({"processed", "clipped"})
"""Verdicts beside which nothing is asked that rests on loudness or on how notes end."""

MOST_MEASURES = 4
"""More measures than this are said from the first to the last."""


@dataclass(frozen=True, slots=True)
class Finding:
    """What speaks against a level: in words, in which measures (0-based), how large (1 is just)."""

    words: str
    measures: tuple[int, ...]
    size: float


@dataclass(frozen=True, slots=True)
class Question:
    """One question to the rater, with the first and last measure of the passage to hear again."""

    criterion: str
    level: int
    sentence: str
    first_measure: int
    last_measure: int


Look = Callable[[KeptReport], Finding | None]
"""One look at a kept report: what it finds, ``None`` where it is silent."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """For which ``levels`` of a criterion one look is worth a question."""

    criterion: Criterion
    levels: frozenset[int]
    look: Look
    by_loudness: bool = False


def questions(levels: Mapping[str, str], kept: KeptReport) -> tuple[Question, ...]:
    """At most two questions on ``levels`` (criterion to stored level), the clearest first.

    One a criterion. Answers that are no level ("not_heard") are never asked about.
    """
    if kept.cautions & UNSURE:
        return ()
    found: dict[str, tuple[float, Question]] = {}
    for doubt in DOUBTS:
        key = doubt.criterion.key
        given = levels.get(key, "")
        if key in found or not given.isdigit() or int(given) not in doubt.levels:
            continue
        if doubt.by_loudness and kept.cautions & LOUDNESS_UNSURE:
            continue
        finding = doubt.look(kept)
        if finding is not None:
            found[key] = finding.size, _asked(doubt.criterion, int(given), finding, kept)
    ordered = sorted(found.values(), key=lambda pair: -pair[0])
    return tuple(question for _, question in ordered[:MOST_QUESTIONS])


def _asked(criterion: Criterion, level: int, finding: Finding, kept: KeptReport) -> Question:
    """The question in words: what was given, what was read and where, listen again?"""
    place = _measures_in_words(kept.performance.passage, finding.measures)
    said = finding.words[0].upper() + finding.words[1:]
    return Question(
        criterion.key,
        level,
        f"You gave {level} for {criterion.name.lower()}. {said}, {place}. Listen again?",
        finding.measures[0],
        finding.measures[-1],
    )


def _measures_in_words(passage: Passage, measures: Sequence[int]) -> str:
    """A few measures one by one, many from the first to the last."""
    if len(measures) <= MOST_MEASURES:
        return where(passage, measures)
    return f"in measures {printed(passage, measures[0])} to {printed(passage, measures[-1])}"


def _of_notes(passage: Passage, indexes: Sequence[int]) -> tuple[int, ...]:
    """The measures that hold these notes, in order."""
    return tuple(sorted({passage.notes[index].measure for index in indexes}))


def _all_measures(kept: KeptReport) -> tuple[int, ...]:
    """The measures in which the passage has notes."""
    passage = kept.performance.passage
    return _of_notes(passage, range(len(passage.notes)))


def _sure(kept: KeptReport, troubles: Sequence[Trouble]) -> list[Trouble]:
    """Troubles of notes that were surely found, and said without "a little"."""
    heard = kept.performance.notes
    return [
        one
        for one in troubles
        if one.size >= CLEAR_SIZE and heard[one.index].probability >= SURE_PROBABILITY
    ]


def _enough(count: int, of: int, share: float) -> bool:
    """True for so many findings that they are worth a question."""
    return count >= FEWEST_FINDINGS and count >= share * of


def _way(apart: Sequence[float], below: str, above: str) -> str:
    """Which way values lie: all below, all above, or both ways."""
    ways = [word for word, there in ((below, min(apart) < 0), (above, max(apart) > 0)) if there]
    return " or ".join(ways)


def _well_read(kept: KeptReport, n_read: int) -> bool:
    """True when a take has notes enough, all played as written, nearly all of them read."""
    heard = kept.performance.notes
    return (
        n_read >= FEWEST_CLEAN
        and n_read >= CLEAN_SHARE * len(heard)
        and all(note.outcome == "played" for note in heard)
        and not (kept.performance.restarts or kept.performance.prolonged)
    )


# --- rhythm ----------------------------------------------------------------


def _entries_off(kept: KeptReport, *, share: float) -> Finding | None:
    """Entries clearly early or late, by the threshold of the reading's own words."""
    heard = kept.performance.notes
    n_read = sum(note.asynchrony_ms is not None for note in heard)
    off = _sure(kept, rhythm.find(kept.performance)) if n_read >= rhythm.FEWEST_NOTES else []
    if not _enough(len(off), n_read, share):
        return None
    apart = [heard[one.index].asynchrony_ms for one in off]
    about = round(float(np.median(np.abs(apart))), -1)
    return Finding(
        f"{counted(len(off), 'entry', 'entries')} are about {about:.0f} ms "
        f"{_way(apart, 'early', 'late')}",
        _of_notes(kept.performance.passage, [one.index for one in off]),
        max(one.size for one in off) / CLEAR_SIZE,
    )


SAID_OF_VALUES = ("rushed.", "dragged.", "early.", "late.")
"""How the sentence on a written value ends when it is not as written."""


def _entries_clean(kept: KeptReport) -> Finding | None:
    """Every entry close to the beat, surely so, and no written value rushed, dragged, off."""
    n_read = sum(note.asynchrony_ms is not None for note in kept.performance.notes)
    scatter = kept.reading(rhythm.KEY, "scatter of entries")
    if scatter is None or not _well_read(kept, n_read) or rhythm.find(kept.performance):
        return None
    if scatter.high is None or scatter.high >= kept.performance.onset_tolerance_ms:
        return None
    if any(said.endswith(SAID_OF_VALUES) for said in kept.sentences(rhythm.KEY)):
        return None
    return Finding(f"all {n_read} entries are close to the beat", _all_measures(kept), 1.0)


# --- steady pulse ----------------------------------------------------------


def _drift_over(kept: KeptReport, percent: float) -> Reading | None:
    """The drift of the tempo where its whole interval is beyond ``percent``, either way."""
    drift = kept.reading(pulse.KEY, "drift")
    if drift is None or drift.low is None or drift.high is None:
        return None
    return drift if drift.low >= percent or drift.high <= -percent else None


def _unsteady(kept: KeptReport, *, stops: int, percent: float) -> Finding | None:
    """So many stops, or a drift surely beyond ``percent``."""
    counted_stops = kept.reading(pulse.KEY, "stops")
    if counted_stops is not None and counted_stops.value >= stops:
        number = int(counted_stops.value)
        places = _of_notes(kept.performance.passage, stops_of(kept.performance))
        said = f"the playing stopped {counted(number, 'time', 'times')}"
        # A report of an earlier edition does not tell a repeat's seams from stops.
        known = len(places) == number
        return Finding(said, places if known else _all_measures(kept), number / stops)
    drift = _drift_over(kept, percent)
    if drift is None:
        return None
    way = "faster" if drift.value > 0 else "slower"
    said = f"the tempo gets {abs(drift.value):.0f} percent {way} from start to end"
    return Finding(said, _all_measures(kept), abs(drift.value) / max(percent, 1.0))


def _steady(kept: KeptReport) -> Finding | None:
    """No stop, no note that went on, no drift and no bending that words would name, surely so."""
    drift = kept.reading(pulse.KEY, "drift")
    bend = kept.reading(pulse.KEY, "bending of the tempo")
    stops = kept.reading(pulse.KEY, "stops")
    if drift is None or bend is None or stops is None or drift.n_notes < FEWEST_CLEAN:
        return None
    held = drift.low > -pulse.NOTICEABLE_PERCENT and drift.high < pulse.NOTICEABLE_PERCENT
    even = bend.high < 2.0 * pulse.NOTICEABLE_PERCENT
    broken = stops.value or kept.performance.restarts or kept.performance.prolonged
    if broken or not (held and even):
        return None
    return Finding("the tempo holds without a stop", _all_measures(kept), 1.0)


# --- intonation ------------------------------------------------------------


def _notes_off(kept: KeptReport, *, share: float) -> Finding | None:
    """Notes clearly sharp or flat, by the threshold of the reading's own words."""
    n_read = sum(note.deviation_cents is not None for note in kept.performance.notes)
    off = _sure(kept, intonation.find(kept.performance))
    if not _enough(len(off), n_read, share):
        return None
    apart_by_index = intonation.deviations(kept.performance)
    apart = [apart_by_index[one.index] for one in off]
    about = round(float(np.median(np.abs(apart))), -1)
    return Finding(
        f"{counted(len(off), 'note')} are about {about:.0f} cents {_way(apart, 'flat', 'sharp')}",
        _of_notes(kept.performance.passage, [one.index for one in off]),
        max(one.size for one in off) / CLEAR_SIZE,
    )


def _in_tune(kept: KeptReport) -> Finding | None:
    """No note out of tune, no drift, and the take as a whole at pitch, surely so."""
    n_read = sum(note.deviation_cents is not None for note in kept.performance.notes)
    spread = kept.reading(intonation.KEY, intonation.SPREAD_NAMES[kept.performance.target.kind])
    tuning = kept.reading(intonation.KEY, "tuning of the take")
    drift = kept.reading(intonation.KEY, "drift of the pitch")
    if spread is None or tuning is None or drift is None or not _well_read(kept, n_read):
        return None
    moved = max(abs(drift.low), abs(drift.high), abs(tuning.low), abs(tuning.high))
    if moved >= NOTE_CENTS or spread.high >= NOTE_CENTS:
        return None
    if intonation.find(kept.performance):
        return None
    return Finding(f"none of {n_read} notes is sharp or flat", _all_measures(kept), 1.0)


# --- notes -----------------------------------------------------------------

FEWEST_SLIPS = 2
"""Notes not as written that level 4, "every note is right", is doubted by: one may be the
listening's own slip (our choice)."""


def _not_as_written(kept: KeptReport, *, fewest: int, share: float) -> Finding | None:
    """Notes that surely were other than written or were not heard."""
    performance = kept.performance
    told = [kept.reading(notes.KEY, name) for name in ("other notes", "notes not heard")]
    sure_by_words = sum(int(one.low or 0.0) for one in told if one is not None)
    faulty = [
        note
        for note in performance.notes
        if note.outcome != "played" and note.probability >= SURE_PROBABILITY
    ]
    # Notes of a repeat that was left out are missing in the report and not in its words; where
    # time alone tells which of equal notes was which, nobody can say what was missing.
    if len(faulty) != sure_by_words or _one_pitch(performance.passage):
        return None
    if len(faulty) < fewest or len(faulty) < share * len(performance.notes):
        return None
    other = sum(note.outcome == "other_pitch" for note in faulty)
    missing = len(faulty) - other
    said = [f"{counted(other, 'note')} {_be(other)} not the written one"] if other == 1 else []
    said += [f"{counted(other, 'note')} are not the written ones"] if other > 1 else []
    said += [f"{counted(missing, 'note')} {_were(missing)} not heard"] if missing else []
    return Finding(
        " and ".join(said),
        _of_notes(performance.passage, [note.index for note in faulty]),
        len(faulty) / fewest,
    )


def _one_pitch(passage: Passage) -> bool:
    """True when all notes have one pitch."""
    return len({note.midi for note in passage.notes}) == 1


def _be(count: int) -> str:
    return "is" if count == 1 else "are"


def _were(count: int) -> str:
    return "was" if count == 1 else "were"


def _all_written(kept: KeptReport) -> Finding | None:
    """Every written note heard, surely so, nothing added, no second start."""
    told = [
        kept.reading(notes.KEY, name) for name in ("other notes", "notes not heard", "added sounds")
    ]
    count = len(kept.performance.notes)
    if any(one is None or one.value or one.high for one in told) or not _well_read(kept, count):
        return None
    if _one_pitch(kept.performance.passage):
        return None
    return Finding(f"all {count} written notes were heard", _all_measures(kept), 1.0)


# --- dynamics --------------------------------------------------------------


def _marks(kept: KeptReport) -> tuple[str, str, tuple[int, ...]] | None:
    """The softest and the loudest written mark, and the measures they stand over."""
    by_mark: dict[str, list[int]] = {}
    for note in kept.performance.passage.notes:
        if note.dynamic in LOUDNESS_ORDER and not note.marks & dynamics.ACCENTS:
            by_mark.setdefault(note.dynamic, []).append(note.measure)
    marks = [m for m in LOUDNESS_ORDER if len(by_mark.get(m, ())) >= dynamics.FEWEST_NOTES]
    if len(marks) < 2:
        return None
    soft, loud = marks[0], marks[-1]
    return soft, loud, tuple(sorted({*by_mark[soft], *by_mark[loud]}))


def _little_contrast(kept: KeptReport) -> Finding | None:
    """Surely less between loud and soft than what the words call a contrast."""
    contrast, marks = kept.reading(dynamics.KEY, dynamics.NAME), _marks(kept)
    if contrast is None or marks is None or contrast.high >= dynamics.LITTLE_LU:
        return None
    soft, loud, measures = marks
    said = f"little contrast is heard between {soft} and {loud}"
    return Finding(said, measures, 2.0 - contrast.high / dynamics.LITTLE_LU)


def _clear_contrast(kept: KeptReport, *, at_least_lu: float) -> Finding | None:
    """Surely more between loud and soft than ``at_least_lu``."""
    contrast, marks = kept.reading(dynamics.KEY, dynamics.NAME), _marks(kept)
    if contrast is None or marks is None or contrast.low < at_least_lu:
        return None
    soft, loud, measures = marks
    said = f"the notes at {loud} are {contrast.value:.0f} decibels louder than those at {soft}"
    return Finding(said, measures, 1.0)


# --- articulation ----------------------------------------------------------


def _marked(kept: KeptReport) -> list[tuple[str, float, Reading]]:
    """Kinds of marked notes that were compared with plain ones: name, expected way, reading."""
    found = []
    for name, (_, sign) in articulation.EXPECTED.items():
        apart = kept.reading(articulation.KEY, f"{name} against plain notes")
        if apart is not None and apart.low is not None and apart.high is not None:
            found.append((name, sign, apart))
    return found


def _marks_alike(kept: KeptReport) -> Finding | None:
    """A kind of marked note that surely is not clearly other than plain ones."""
    for name, sign, apart in _marked(kept):
        most = max(sign * apart.low, sign * apart.high)
        if most < articulation.CLEAR_PERCENT:
            measures = _with_mark(kept, name)
            said = f"{name} sound about as long as plain notes"
            return Finding(said, measures, 2.0 - most / articulation.CLEAR_PERCENT)
    return None


def _marks_told_apart(kept: KeptReport) -> Finding | None:
    """Every kind of marked note surely and clearly other than plain ones."""
    told = _marked(kept)
    clear = all(
        min(sign * apart.low, sign * apart.high) >= articulation.CLEAR_PERCENT
        for _, sign, apart in told
    )
    if not told or not clear:
        return None
    names = " and ".join(name for name, _, _ in told)
    measures = sorted({measure for name, _, _ in told for measure in _with_mark(kept, name)})
    return Finding(f"{names} sound clearly other than plain notes", tuple(measures), 1.0)


def _with_mark(kept: KeptReport, name: str) -> tuple[int, ...]:
    """The measures that hold notes of one kind of mark."""
    mark = articulation.KINDS[name][0]
    return tuple(
        sorted({n.measure for n in kept.performance.passage.notes if mark in n.marks})
    )


# --- the table -------------------------------------------------------------

LOW, TOP, HIGH = frozenset({1, 2}), frozenset({4}), frozenset({3})

DOUBTS: tuple[Doubt, ...] = (
    Doubt(rhythm.CRITERION, TOP, partial(_entries_off, share=0.0)),
    Doubt(rhythm.CRITERION, HIGH, partial(_entries_off, share=MANY_SHARE)),
    Doubt(rhythm.CRITERION, LOW, _entries_clean),
    Doubt(pulse.CRITERION, TOP, partial(_unsteady, stops=1, percent=pulse.NOTICEABLE_PERCENT)),
    Doubt(
        pulse.CRITERION, HIGH, partial(_unsteady, stops=2, percent=2.0 * pulse.NOTICEABLE_PERCENT)
    ),
    Doubt(pulse.CRITERION, LOW, _steady),
    Doubt(intonation.CRITERION, TOP, partial(_notes_off, share=0.0)),
    Doubt(intonation.CRITERION, HIGH, partial(_notes_off, share=MANY_SHARE)),
    Doubt(intonation.CRITERION, LOW, _in_tune),
    Doubt(notes.CRITERION, TOP, partial(_not_as_written, fewest=FEWEST_SLIPS, share=0.0)),
    Doubt(
        notes.CRITERION, HIGH, partial(_not_as_written, fewest=FEWEST_FINDINGS, share=MANY_SHARE)
    ),
    Doubt(notes.CRITERION, LOW, _all_written),
    Doubt(dynamics.CRITERION, TOP | HIGH, _little_contrast, by_loudness=True),
    Doubt(
        dynamics.CRITERION,
        frozenset({1}),
        partial(_clear_contrast, at_least_lu=dynamics.LITTLE_LU),
        by_loudness=True,
    ),
    Doubt(
        dynamics.CRITERION,
        frozenset({2}),
        partial(_clear_contrast, at_least_lu=2.0 * dynamics.LITTLE_LU),
        by_loudness=True,
    ),
    Doubt(articulation.CRITERION, TOP, _marks_alike, by_loudness=True),
    Doubt(articulation.CRITERION, frozenset({1}), _marks_told_apart, by_loudness=True),
)
"""Every doubt there is. Level 2 allows "a little change" of loudness: it is doubted by twice what
is called a contrast. A room's echo lengthens notes, so only the top level is doubted by it."""
