"""A line of music typed in a plain form, as a small MusicXML score.

The form is explained for people in docs/typed-line.md. Pitches are as printed on the
musician's own part; the instrument's transposition is written into the score, so that
it sounds right. Every measure must be as full as its meter says.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction

from standlight.errors import UnreadableLine
from standlight.score.instruments import INSTRUMENTS, Instrument, instrument_of
from standlight.score.line_writing import STROKES, TypedMeasure, TypedNote, write_line

LONGEST_LINE = 20_000
"""Characters; a page of method book is about a tenth of this."""

SLOWEST_QPM, FASTEST_QPM = 20, 320
"""Quarters a minute; wider than any metronome's scale (40 to 208, common practice)."""

_PITCH = re.compile(r"^([A-Ga-g])(##|#|bb|b|n)?(\d)$")
_VALUE = re.compile(r"^([whqest])(\.{0,2})(3?)([>'_^]*)(~?)$")
_ALTERS = {"##": 2, "#": 1, "bb": -2, "b": -1, "n": 0, None: 0}
_ARTICULATIONS = {">": "accent", "'": "staccato", "_": "tenuto", "^": "strong-accent"}
_DYNAMICS = frozenset({"ppp", "pp", "p", "mp", "mf", "f", "ff", "fff"})
_BARS = frozenset({"|", "||", "|]"})
_MAJOR = {
    "Cb": -7, "Gb": -6, "Db": -5, "Ab": -4, "Eb": -3, "Bb": -2, "F": -1, "C": 0,
    "G": 1, "D": 2, "A": 3, "E": 4, "B": 5, "F#": 6, "C#": 7,
}  # fmt: skip
_MINOR = {
    "Ab": -7, "Eb": -6, "Bb": -5, "F": -4, "C": -3, "G": -2, "D": -1, "A": 0,
    "E": 1, "B": 2, "F#": 3, "C#": 4, "G#": 5, "D#": 6, "A#": 7,
}  # fmt: skip


def line_to_musicxml(text: str, *, instrument: str, title: str = "") -> bytes:
    """A MusicXML file of one part from a typed line; notes carry the ids n0, n1, ...

    ``instrument`` is a name of `INSTRUMENTS` or one that `instrument_of` understands.
    Raises `UnreadableLine` naming measure and token.

    >>> b"<step>F</step>" in line_to_musicxml("key F  F4 q G4 q A4 h", instrument="Flute")
    True
    """
    known = INSTRUMENTS.get(instrument_of(instrument))
    if known is None:
        raise UnreadableLine(f"no instrument called {instrument!r} is known")
    if len(text) > LONGEST_LINE:
        raise UnreadableLine(f"the line has more than {LONGEST_LINE:,} characters")
    measures, pickup = _Typed(text, known).read()
    return write_line(measures, pickup, known, title)


class _Typed:
    """The reading of one typed line, token by token."""

    def __init__(self, text: str, instrument: Instrument) -> None:
        self.tokens: Iterator[str] = iter(
            text.replace("(", " ( ").replace(")", " ) ").replace(",", " ").split()
        )
        self.instrument = instrument
        self.measures: list[TypedMeasure] = []
        self.here = TypedMeasure(1, (4, 4), new_meter=True, fifths=0)
        self.pickup = False
        self.previous_value: re.Match[str] | None = None
        self.opening: list[str] = []
        self.dynamic: str | None = None
        self.waiting: tuple[str, str | None, int, int, str | None] | None = None
        self.last_stroke: tuple[str, str | None, int, int, str | None] | None = None
        self.headers = {
            "time": self.time, "key": self.key, "tempo": self.tempo, "pickup": self.begin_pickup,
        }  # fmt: skip

    def read(self) -> tuple[list[TypedMeasure], bool]:
        """All measures, and whether the first is a pickup."""
        for token in self.tokens:
            self.token(token)
        self.flush()
        if self.here.notes:
            self.close()
        if not any(note for measure in self.measures for note in measure.notes if not note.rest):
            raise UnreadableLine("the line holds no note", slip="only a header?")
        self._check_last()
        self._check_slurs_and_ties()
        return self.measures, self.pickup

    def fail(self, what: str, token: str, slip: str = "") -> UnreadableLine:
        """The error for ``token`` in the measure under way."""
        return UnreadableLine(what, where=f"measure {self.here.number}, “{token}”", slip=slip)

    def token(self, token: str) -> None:
        """Take one token."""
        if token.lower() in self.headers:
            self.headers[token.lower()](token)
        elif token in _BARS:
            self.flush()
            if not self.here.notes:
                raise self.fail("a barline follows no note", token, "two barlines in a row?")
            self.close()
        elif token in _DYNAMICS:
            self.flush()
            self.dynamic = token
        elif token == "(":
            self.flush()
            self.opening.append("start")
        elif token == ")":
            self.flush()
            if not self.here.notes and not self.measures:
                raise self.fail("a slur ends before any note", token)
            notes = self.here.notes or self.measures[-1].notes
            notes[-1].slur.append("stop")
        elif _VALUE.match(token):
            self.value(token)
        else:
            self.flush()
            self.waiting = self.pitch_or_stroke(token)

    def argument(self, token: str) -> str:
        """The token after a header word, which must stand at a measure's start."""
        self.flush()
        if self.here.notes:
            raise self.fail(f"{token} must stand at the start of a measure", token)
        argument = next(self.tokens, None)
        if argument is None:
            raise self.fail(f"{token} is followed by nothing", token)
        return argument

    def time(self, token: str) -> None:
        """Time 3/4."""
        argument = self.argument(token)
        found = re.match(r"^(\d{1,2})/(1|2|4|8|16|32)$", argument)
        if found is None or not 1 <= int(found.group(1)) <= 32:
            raise self.fail("a meter is written as 4/4, 3/4 or 6/8", argument)
        self.here.meter, self.here.new_meter = (int(found.group(1)), int(found.group(2))), True

    def key(self, token: str) -> None:
        """Key Bb, key F#m."""
        argument = self.argument(token)
        minor = argument.endswith("m")
        tonic = argument.rstrip("m")
        tonic = tonic[:1].upper() + tonic[1:]
        table = _MINOR if minor else _MAJOR
        if tonic not in table:
            raise self.fail("this key has no signature", argument, "written as F, Bb, F# or Dm")
        self.here.fifths = table[tonic]

    def tempo(self, token: str) -> None:
        """Tempo 96, in quarters a minute."""
        argument = self.argument(token)
        if not argument.isdigit() or not SLOWEST_QPM <= int(argument) <= FASTEST_QPM:
            raise self.fail(
                f"a tempo is a number of quarters a minute, {SLOWEST_QPM} to {FASTEST_QPM}",
                argument,
            )
        self.here.tempo = float(argument)

    def begin_pickup(self, token: str) -> None:
        """pickup: the first measure is short and counts as measure 0."""
        if self.measures or self.here.notes:
            raise self.fail("pickup stands before the first note", token)
        self.pickup = True
        self.here.number = 0

    def pitch_or_stroke(self, token: str) -> tuple[str, str | None, int, int, str | None]:
        """(token, step, alter, octave, stroke) of a note, rest or stroke."""
        if token.lower() == "r":
            return token, None, 0, 0, None
        found = _PITCH.match(token)
        if found:
            if self.instrument.unpitched:
                raise self.fail(
                    f"{self.instrument.name} has no pitches", token, "write x or a stroke's name"
                )
            step, accidental, octave = found.groups()
            return token, step.upper(), _ALTERS[accidental], int(octave), None
        stroke = token.lower()
        if stroke in STROKES:
            if not self.instrument.unpitched:
                raise self.fail(f"{self.instrument.name} plays pitches, not strokes", token)
            self.last_stroke = (token, None, 0, 0, stroke)
            return self.last_stroke
        raise self.fail(*_why_not(token))

    def value(self, token: str) -> None:
        """A value right after a note."""
        if self.waiting is None and self.instrument.unpitched:
            self.waiting = self.last_stroke
        if self.waiting is None:
            raise self.fail("a value follows no note", token, "two values in a row?")
        self.previous_value = _VALUE.match(token)
        self.add(self.previous_value, marks=True)

    def flush(self) -> None:
        """Finish a note that was typed without a value: it is as long as the one before."""
        if self.waiting is None:
            return
        if self.previous_value is None:
            raise self.fail("the first note has no value", self.waiting[0], "for instance F4 q")
        self.add(self.previous_value, marks=False)

    def add(self, value: re.Match[str], *, marks: bool) -> None:
        """Append the waiting note; marks and ties are not repeated with a repeated value."""
        _, step, alter, octave, stroke = self.waiting
        signs = value.group(4) if marks else ""
        note = TypedNote(
            step, alter, octave, stroke, value.group(1), len(value.group(2)),
            value.group(3) == "3", tuple(_ARTICULATIONS[sign] for sign in signs),
            bool(value.group(5)) and marks,
        )  # fmt: skip
        if not note.rest:
            note.slur, self.opening = self.opening, []
        note.dynamic, self.dynamic = self.dynamic, None
        self.here.notes.append(note)
        self.waiting = None

    def close(self) -> None:
        """End the measure under way and check that it is full."""
        _bracket_triplets(self.here)
        beats, unit = self.here.meter
        full = Fraction(4 * beats, unit)
        first = not self.measures and self.pickup
        if self.here.quarters > full or (first and self.here.quarters == full):
            raise UnreadableLine(
                f"{_beats(self.here.quarters)} do not fit in {beats}/{unit}"
                + (" as a pickup" if first else ""),
                where=f"measure {self.here.number}",
                slip="a barline missing, or a value too long?",
            )
        self.measures.append(self.here)
        self.here = TypedMeasure(self.here.number + 1, self.here.meter)

    def _check_last(self) -> None:
        """Every measure is full, but a pickup and the last one that completes it."""
        for place, measure in enumerate(self.measures):
            full = Fraction(4 * measure.meter[0], measure.meter[1])
            if measure.quarters == full or (place == 0 and self.pickup):
                continue
            last = place == len(self.measures) - 1
            if last and self.pickup and self.measures[0].quarters + measure.quarters == full:
                continue
            raise UnreadableLine(
                f"{_beats(measure.quarters)} do not fill {measure.meter[0]}/{measure.meter[1]}",
                where=f"measure {measure.number}",
                slip="a note or a rest is missing, or write pickup before the first measure",
            )

    def _check_slurs_and_ties(self) -> None:
        """Every slur that begins ends; every tie joins two notes of one pitch."""
        open_slurs = 0
        notes = [(one, note) for one in self.measures for note in one.notes]
        for place, (measure, note) in enumerate(notes):
            open_slurs += note.slur.count("start") - note.slur.count("stop")
            if open_slurs not in (0, 1):
                raise UnreadableLine(
                    "slurs do not pair up", where=f"measure {measure.number}", slip="( and )"
                )
            following = notes[place + 1][1] if place + 1 < len(notes) else None
            if note.tied and (
                note.rest
                or following is None
                or (following.step, following.alter, following.octave, following.stroke)
                != (note.step, note.alter, note.octave, note.stroke)
            ):
                raise UnreadableLine(
                    "a tie (~) must lead to a note of the same pitch",
                    where=f"measure {measure.number}",
                )
        if open_slurs or self.opening:
            raise UnreadableLine("a slur is not closed", slip="a ) is missing")


def _why_not(token: str) -> tuple[str, str, str]:
    """What is wrong with a token that is nothing of the plain form."""
    if re.match(r"^[A-Ga-g][#bn]?$", token):
        return "a pitch needs its octave", token, f"for instance {token.upper()}4"
    if re.match(r"^[A-Ga-g](##|#|bb|b|n)?\d[whqest]", token):
        return "a space is missing between pitch and value", token, "for instance F4 q"
    return "this is neither a note, a rest, a value nor a barline", token, "spelled otherwise?"


def _beats(quarters: Fraction) -> str:
    """A length in words: "3 quarters", "7/2 quarters"."""
    return f"{quarters} quarter{'s' if quarters != 1 else ''}"


def _bracket_triplets(measure: TypedMeasure) -> None:
    """Mark where each triplet starts and stops; an unfinished one is an error."""
    length = Fraction(0)
    for note in measure.notes:
        if not note.triplet:
            if length:
                break
            continue
        if not length:
            note.tuplet = "start"
        length += note.quarters
        if length.denominator % 3:
            note.tuplet, length = ("stop" if note.tuplet is None else None), Fraction(0)
    if length:
        raise UnreadableLine(
            "a triplet is not complete", where=f"measure {measure.number}", slip="e3 e3 e3"
        )
