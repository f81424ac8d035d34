"""What one player plays of a part that may show chords, two voices or two staves.

Common practice, no source. The upper line is, in each measure, the highest staff's first
voice, and of a chord the top note. The lower line is the lowest staff's last voice and of a
chord the bottom note; where that voice is silent but no rest is printed for it, both players
share the other voice's notes. A note that would sound over one still held is left to the
other player, so these lines are never more than one note at a time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from standlight.errors import StandlightError
from standlight.music import Note
from standlight.score.values import Part
from standlight.score.walked import whole_in

UPPER, LOWER, ALL = "upper", "lower", "all"
LINES = (UPPER, LOWER, ALL)
"""What a player may be given of a part that divides: one of two lines, or every note."""


@dataclass(frozen=True, slots=True)
class PrintedRest:
    """A rest that stands in the print for one voice; times in quarters."""

    onset_quarters: Fraction
    end_quarters: Fraction
    measure: int
    staff: int
    voice: str


def player_line(
    notes: Iterable[Note],
    *,
    voice: str | None = None,
    line: str = UPPER,
    rests: Iterable[PrintedRest] = (),
) -> tuple[Note, ...]:
    """The notes of one player in time order: one at a time, but for ``line`` "all".

    ``notes`` are a part's in time order; ``voice`` picks a voice by its MusicXML number
    instead of the upper or lower one of each measure. ``rests`` keep the lower line silent
    where the upper one plays on alone. Raises `StandlightError` for no such line.

    >>> from standlight.music import Note
    >>> chord = [Note(Fraction(0), Fraction(1), midi, 0, midi) for midi in (60, 64, 67)]
    >>> [[note.midi for note in player_line(chord, line=line)] for line in LINES]
    [[67], [60], [60, 64, 67]]
    """
    notes = tuple(notes)
    places = player_line_places(notes, voice=voice, line=line, rests=rests)
    return tuple(notes[at] for at in places)


def player_line_places(
    notes: Sequence[Note],
    *,
    voice: str | None = None,
    line: str = UPPER,
    rests: Iterable[PrintedRest] = (),
) -> list[int]:
    """The places in ``notes`` that `player_line` keeps."""
    choose = _CHOOSE[checked_line(line)]
    if voice is not None:
        mine = [place for place, note in enumerate(notes) if note.voice == voice]
    else:
        mine = choose(notes, tuple(rests))
    return mine if line == ALL else _one_at_a_time(notes, mine, lowest=line == LOWER)


def divides(notes: Iterable[Note], *, rests: Iterable[PrintedRest] = ()) -> bool:
    """True when it matters which line of ``notes`` (in time order) a player has.

    Two voices in unison do not divide.
    """
    notes, rests = tuple(notes), tuple(rests)
    lines = {
        frozenset(
            (note.onset_quarters, note.duration_quarters, note.midi, note.drum)
            for note in player_line(notes, line=line, rests=rests)
        )
        for line in LINES
    }
    return len(lines) > 1


def divided(part: Part, first: int, last: int) -> bool:
    """True when it matters in measures ``first`` to ``last`` (0-based) which line is played.

    Counts the notes that begin there.
    """
    return divides(note for note in part.notes if first <= note.measure <= last)


def checked_line(line: str) -> str:
    """``line`` itself; raises `StandlightError` when there is no such line."""
    if line not in LINES:
        raise StandlightError(
            f"{line!r} is no line of a part: it is {', '.join(LINES[:-1])} or {LINES[-1]}",
            slip="a voice's number instead of a line?",
        )
    return line


def _one_at_a_time(notes: Sequence[Note], mine: Iterable[int], *, lowest: bool) -> list[int]:
    """Of the places ``mine`` the outer note of each chord, and none over a note still held."""
    side = -1 if lowest else 1
    kept: list[int] = []
    for place in mine:
        note = notes[place]
        last = notes[kept[-1]] if kept else None
        if last is not None and note.onset_quarters == last.onset_quarters:
            if side * _height(note) > side * _height(last):
                kept[-1] = place
        elif last is None or note.onset_quarters >= _end(last):
            kept.append(place)
    return kept


def _upper_places(notes: Sequence[Note], _: Sequence[PrintedRest]) -> list[int]:
    """The notes of each measure's first voice on its highest staff."""
    chosen: dict[int, tuple[int, str]] = {}
    for note in notes:
        mine = (note.staff, note.voice)
        if note.measure not in chosen or _order(mine) < _order(chosen[note.measure]):
            chosen[note.measure] = mine
    return [
        place
        for place, note in enumerate(notes)
        if (note.staff, note.voice) == chosen[note.measure]
    ]


def _lower_places(notes: Sequence[Note], rests: Sequence[PrintedRest]) -> list[int]:
    """The notes of each measure's last voice on the lowest staff, and what it shares."""
    staff = max((note.staff for note in notes), default=1)
    here = [place for place, note in enumerate(notes) if note.staff == staff]
    rests = [rest for rest in rests if rest.staff == staff]
    last: dict[int, str] = {}
    for one in (*(notes[place] for place in here), *rests):
        now = last.setdefault(one.measure, one.voice)
        if _order((staff, one.voice)) > _order((staff, now)):
            last[one.measure] = one.voice
    own = [place for place in here if notes[place].voice == last[notes[place].measure]]
    taken = [(notes[place].onset_quarters, _end(notes[place])) for place in own]
    taken += [
        (rest.onset_quarters, rest.end_quarters)
        for rest in rests
        if rest.voice == last[rest.measure]
    ]
    return _with_shared(notes, here, set(own), sorted(taken))


def _with_shared(
    notes: Sequence[Note],
    here: Iterable[int],
    own: set[int],
    taken: Sequence[tuple[Fraction, Fraction]],
) -> list[int]:
    """The places ``own``, and of ``here`` those that sound wholly outside the spans ``taken``."""
    places, at, busy_until = [], 0, Fraction(-1)
    for place in here:
        start, end = notes[place].onset_quarters, _end(notes[place])
        while at < len(taken) and taken[at][0] <= start:
            busy_until = max(busy_until, taken[at][1])
            at += 1
        free = busy_until <= start and (at == len(taken) or taken[at][0] >= end)
        if free or place in own:
            places.append(place)
    return places


def _all_places(notes: Sequence[Note], _: Sequence[PrintedRest]) -> list[int]:
    """Every note."""
    return list(range(len(notes)))


_CHOOSE: dict[str, Callable[[Sequence[Note], Sequence[PrintedRest]], list[int]]] = {
    UPPER: _upper_places,
    LOWER: _lower_places,
    ALL: _all_places,
}
"""The places of each line, chords not yet thinned."""


def _order(staff_and_voice: tuple[int, str]) -> tuple[int, int, str]:
    """Sort key: staff, then voice 2 before voice 10."""
    staff, voice = staff_and_voice
    number = whole_in(voice)
    return (staff, 1_000_000, voice) if number is None else (staff, number, "")


def _end(note: Note) -> Fraction:
    """When the note ends, in quarters."""
    return note.onset_quarters + note.duration_quarters


def _height(note: Note) -> int:
    """Written pitch for comparing the notes of a chord; strokes are all alike."""
    return note.written_midi if note.written_midi is not None else 0
