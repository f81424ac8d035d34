"""Pulse: the tempo of the take, its drift, and how often it stopped."""

from __future__ import annotations

import numpy as np

from standlight.criteria.figures import NORMAL_95, robust_spread
from standlight.criteria.longer import find_longer, read_longer
from standlight.criteria.places import printed, where_if_few
from standlight.criteria.values import EVERYONE, Criterion, Reading, Trouble
from standlight.passages import Asks, Held, counted
from standlight.sound.curves import TempoPoint, stops_of, tempo_curve
from standlight.sound.values import HeardNote, Performance

KEY = "pulse"

NOTICEABLE_PERCENT = 3.0
"""Smallest tempo change heard in a sequence (Drake & Botte 1993, abstract)."""

FEWEST_POINTS = 4
"""Fewer points of a tempo curve show no bending (our choice)."""

FEWEST_NOTES = 8
"""Fewer entries show no drift (our choice)."""

FEWEST_TIMED = 3
"""Fewer entries that were timed have no scatter, which the interval of a tempo rests on."""

STOP_WORDS = ("start after a stop", "starts after a stop")

STOP_SIZE = 2.0
"""How large a stop is as trouble: never "a little", so as large as a note surely missed, which is
twice what is just noticed (our choice)."""


def read(performance: Performance) -> tuple[Reading, ...]:
    """Tempo in quarters a minute, its drift in percent, stops, and notes that went on."""
    heard = [note for note in performance.notes if note.asynchrony_ms is not None]
    resumed = went_on(performance)
    stops = len(resumed)
    stop_words = "It went on without a stop."
    if stops:
        times = counted(stops, "time", "times")
        places = where_if_few(performance.passage, resumed)
        stop_words = f"It stopped {times}{', and went on' if places else ''}{places}."
    counted_stops = Reading(
        KEY, "stops", float(stops), None, None, "times", len(performance.notes),
        because="a count has no interval", sentence=stop_words,
    )  # fmt: skip
    longer = read_longer(performance, KEY)
    if performance.tempo_qpm is None or len(heard) < FEWEST_TIMED:
        because = "too few notes in a row to find a beat"
        if performance.tempo_qpm is not None:
            because = "entries not timed: their starts cannot be seen surely"
        absent = _absent("tempo", "quarters a minute", because, len(heard))
        return (absent, counted_stops, *longer)
    return (
        _tempo(performance, heard),
        _drift(performance, heard),
        counted_stops,
        *longer,
        _against_the_mark(performance, heard),
        _bending(performance, heard),
    )


def went_on(performance: Performance) -> tuple[int, ...]:
    """Index of the note at which it went on after each stop, in the order of the music.

    A start again counts also where `stops_of` has nothing to compare it with (from the first
    note), and as often as it happened, so a note may come twice.
    """
    heard = [note.index for note in performance.notes if note.onset_s is not None]
    again = [
        next((index for index in heard if index >= jump.to_index), jump.to_index)
        for jump in performance.restarts
    ]
    return tuple(sorted([*again, *set(stops_of(performance)).difference(again)]))


def find(performance: Performance) -> tuple[Trouble, ...]:
    """The notes at which it went on after a stop, and the notes that went on too long."""
    stops = tuple(Trouble(index, *STOP_WORDS, STOP_SIZE) for index in went_on(performance))
    return stops + find_longer(performance)


def read_together(performance: Performance) -> tuple[Reading, ...]:
    """The pulse that a small group shares: all but stops, since its restarts are not followed."""
    if performance.tempo_qpm is None:
        because = (
            "several sing or play together, and the entries of this part could not be picked out"
        )
        return (_absent("tempo", "quarters a minute", because, 0),)
    return tuple(reading for reading in read(performance) if reading.name != "stops")


def _tempo(performance: Performance, heard: list[HeardNote]) -> Reading:
    """The take's mean tempo; its interval follows from how far entries scatter."""
    tempo, reach = performance.tempo_qpm, _tempo_reach(performance, heard)
    return Reading(
        KEY, "tempo", tempo, tempo - reach, tempo + reach, "quarters a minute", len(heard),
        sentence=_mark_words(100.0 * (tempo / performance.marked_tempo_qpm - 1.0)),
    )  # fmt: skip


def _mark_words(share: float) -> str:
    """A tempo ``share`` percent above the marked one, in words."""
    if abs(share) < NOTICEABLE_PERCENT:
        return "The tempo is the marked one."
    way = "faster" if share > 0 else "slower"
    return f"The tempo is {abs(share):.0f} percent {way} than marked."


def _against_the_mark(performance: Performance, heard: list[HeardNote]) -> Reading:
    """The same tempo as a share of the marked one, percent."""
    marked = performance.marked_tempo_qpm
    share = 100.0 * (performance.tempo_qpm / marked - 1.0)
    reach = 100.0 * _tempo_reach(performance, heard) / marked
    return Reading(
        KEY, "tempo against the mark", share, share - reach, share + reach, "percent",
        len(heard), sentence=_mark_words(share),
    )  # fmt: skip


def _bending(performance: Performance, heard: list[HeardNote]) -> Reading:
    """From the slowest to the fastest place of the tempo curve, percent of the middle."""
    name, points = "bending of the tempo", tempo_curve(performance)
    if len(points) < FEWEST_POINTS:
        return _absent(name, "percent", "too short, or too many stops, for a tempo curve",
                       len(heard))  # fmt: skip
    slow = min(points, key=lambda point: point.tempo_qpm)
    fast = max(points, key=lambda point: point.tempo_qpm)
    middle = float(np.median([point.tempo_qpm for point in points]))
    bend = 100.0 * (fast.tempo_qpm - slow.tempo_qpm) / middle
    reach = 100.0 * NORMAL_95 * float(np.hypot(fast.se_qpm, slow.se_qpm)) / middle
    words = "The tempo bends little on the way."
    if bend >= 2.0 * NOTICEABLE_PERCENT and bend > reach:
        places = f"{_place(performance, fast)} and slowest in {_place(performance, slow)}"
        words = f"It is fastest in {places}."
    return Reading(
        KEY, name, bend, max(bend - reach, 0.0), bend + reach, "percent", len(heard),
        sentence=words,
    )  # fmt: skip


def _place(performance: Performance, point: TempoPoint) -> str:
    """The measure of a point of the curve: that of the last note at or before it."""
    before = [n for n in performance.passage.notes if float(n.onset_quarters) <= point.quarters]
    note = before[-1] if before else performance.passage.notes[0]
    return f"measure {printed(performance.passage, note.measure)}"


def _tempo_reach(performance: Performance, heard: list[HeardNote]) -> float:
    """Half of the 95 percent interval of the mean tempo, quarters a minute."""
    onsets = [note.onset_s for note in heard]
    scatter_s = robust_spread(note.asynchrony_ms for note in heard) / 1000.0
    length_s = max(max(onsets) - min(onsets), 0.1)
    # a straight line's slope has the standard error s sqrt(12 / n) / length
    share = scatter_s * (12.0 / len(heard)) ** 0.5 / length_s
    return NORMAL_95 * performance.tempo_qpm * share


def _drift(performance: Performance, heard: list[HeardNote]) -> Reading:
    """Change of tempo from first to last note; silent where it cannot be told from chance."""
    drift, se = performance.tempo_drift_percent, performance.tempo_drift_se_percent
    if drift is None or se is None or len(heard) < FEWEST_NOTES:
        because = f"fewer than {FEWEST_NOTES} entries in a row"
        return _absent("drift", "percent", because, len(heard))
    reach = NORMAL_95 * se
    sure = abs(drift) - reach > 0.0 and abs(drift) >= NOTICEABLE_PERCENT
    words = "The tempo holds from start to end."
    if sure:
        way = "faster" if drift > 0 else "slower"
        words = f"It gets {way}: {abs(drift):.0f} percent from start to end."
    return Reading(
        KEY, "drift", drift, drift - reach, drift + reach, "percent", len(heard), sentence=words
    )


def _absent(name: str, unit: str, because: str, count: int) -> Reading:
    """A reading of this criterion that says why there is no figure."""
    return Reading(KEY, name, None, None, None, unit, count, because=because)


ENOUGH_ONSETS_FOR_PULSE = 20.0
"""Onsets from which a drift of the beat can be told (our choice)."""


def _shows(held: Held) -> np.ndarray:
    """Onsets against enough of them, and how much of the time sounds."""
    return np.minimum(held.onsets / ENOUGH_ONSETS_FOR_PULSE, held.sounding_s / held.seconds)


def _words(held: Held) -> str:
    """How many onsets carry the beat for how long."""
    return f"{counted(int(held.onsets[0]), 'note')} over {held.seconds[0]:.0f} seconds"


ASKS = Asks(_shows, _words, needs="notes that go on without long rests")
"""A steady beat is heard where notes go on."""


CRITERION = Criterion(
    key="pulse",
    name="Steady pulse",
    question="Does the beat stay steady from start to end?",
    descriptors={
        1: "The beat is hard to find, or the playing stops and starts.",
        2: "The beat is there for a while, then it speeds up, slows down or waits at hard spots.",
        3: "The beat is steady nearly all the time and gets back quickly after a slip.",
        4: "The beat is steady all the way and bends only where the music asks for it.",
    },
    families=EVERYONE,
    read=read,
    find=find,
    read_together=read_together,
    asks=ASKS,
)
"""Steady pulse, read by the tool beside the director's ear."""
