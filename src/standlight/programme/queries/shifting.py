"""Where each singer's passage lies in their range, and how it is set for them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from standlight.errors import StandlightError
from standlight.music import Note, pitch_name
from standlight.passages import InstrumentRanges
from standlight.programme import store
from standlight.programme.models import (
    Casting,
    CheckPassage,
    OwnVersion,
    PlayingCheck,
    Seat,
    Turn,
)
from standlight.programme.queries.lines import divided_passages
from standlight.programme.tables import tables_of
from standlight.score import (
    INSTRUMENTS,
    OCTAVE_SEMITONES,
    UPPER,
    fifths_of,
    fit,
    fit_words,
    key_words,
    moved,
    moved_fifths,
    on_line,
    read_passage,
    shift_words,
)

OFFERED = (-12, *range(-5, 0), 0, *range(1, 6), 12)
"""What a director may choose: an octave, or up to a fourth to another key, low to high."""


@dataclass(frozen=True, slots=True)
class Offer:
    """One way to set a passage, in words with its key."""

    semitones: int
    words: str


@dataclass(frozen=True, slots=True)
class SingerRange:
    """A singer's range in sounding MIDI numbers, where it is from, and whose it is in words."""

    low_midi: int | None
    high_midi: int | None
    words: str
    whose: str


@dataclass(frozen=True, slots=True)
class SingerLine:
    """A singer: whose range it is, what lies outside as it is set now, and how it is set.

    ``lowest`` and ``highest`` are what is marked as comfortable, as pitch names, empty for
    nothing. ``flag`` is empty when every note lies inside; ``fitting`` is the way from the written
    passage that brings all inside, ``None`` for none or when nothing needs it. ``locked``
    once something is sent.
    """

    seat_pk: int
    musician_pk: int
    name: str
    range_words: str
    lowest: str
    highest: str
    voice_changing: bool
    flag: str
    fitting: Offer | None
    semitones: int
    set_words: str
    locked: bool


@dataclass(frozen=True, slots=True)
class PartRanges:
    """A sung part's passage, with everyone who sings it; ``span_words`` are its two ends."""

    passage_pk: int
    part_name: str
    printed: str
    span_words: str
    offers: tuple[Offer, ...]
    singers: tuple[SingerLine, ...]

    @property
    def shown(self) -> tuple[SingerLine, ...]:
        """Singers who need the director's eye: out of range, or set otherwise."""
        return tuple(one for one in self.singers if one.flag or one.semitones)

    @property
    def others(self) -> tuple[SingerLine, ...]:
        """Singers whose passage fits as it is written."""
        return tuple(one for one in self.singers if not (one.flag or one.semitones))

    @property
    def n_outside(self) -> int:
        """Singers with a note outside their range as it is set now."""
        return sum(bool(singer.flag) for singer in self.singers)

    @property
    def n_own(self) -> int:
        """Singers with a version of their own."""
        return sum(bool(singer.semitones) for singer in self.singers)

    @property
    def n_free(self) -> int:
        """Singers who have not sent anything yet."""
        return sum(not singer.locked for singer in self.singers)


@dataclass(frozen=True, slots=True)
class RangesPage:
    """Every sung part of a check; ``divided`` names the parts, sung or not, that divide."""

    check_pk: int
    title: str
    parts: tuple[PartRanges, ...]
    divided: tuple[str, ...]

    @property
    def n_outside(self) -> int:
        """Singers with a note outside their range, over all parts."""
        return sum(part.n_outside for part in self.parts)

    @property
    def n_own(self) -> int:
        """Singers with a version of their own, over all parts."""
        return sum(part.n_own for part in self.parts)


def ranges_page(check: PlayingCheck) -> RangesPage:
    """The sung parts of ``check`` with their singers of today. Four queries."""
    rows = [
        row
        for row in check.passages.select_related("part").exclude(notation_digest="")
        if row.part is not None
    ]
    passages = [row for row in rows if _is_sung(row, check)]
    seats: dict[int, list[Seat]] = {}
    castings = (
        Casting.objects.filter(
            part__in=[row.part_id for row in passages], seat__left_on__isnull=True
        )
        .select_related("seat__musician")
        .order_by("seat__musician__family_name", "seat__musician__given_name", "pk")
    )
    for casting in castings:
        seats.setdefault(casting.part_id, []).append(casting.seat)
    own = {
        (version.passage_id, version.musician_id): version
        for version in OwnVersion.objects.filter(passage__in=passages)
    }
    sent = set(
        Turn.objects.filter(check_row=check, sent_at__isnull=False).values_list(
            "musician_id", flat=True
        )
    )
    _, tables = tables_of(check.ensemble.programme)
    ranges = tables.ranges
    return RangesPage(
        check.pk,
        check.title,
        tuple(
            _part_ranges(row, seats[row.part_id], own, sent, check.tempo_qpm, ranges)
            for row in passages
            if row.part_id in seats
        ),
        tuple(row.part.name for row in divided_passages(rows)),
    )


def _is_sung(row: CheckPassage, check: PlayingCheck) -> bool:
    """True for a voice of the table, and in a choir for a part that says no instrument."""
    known = INSTRUMENTS.get(row.part.instrument)
    return check.is_singing if known is None else known.voice


def _part_ranges(
    row: CheckPassage,
    seats: list[Seat],
    own: Mapping[tuple[int, int], OwnVersion],
    sent: set[int],
    tempo_qpm: float,
    ranges: Mapping[str, InstrumentRanges],
) -> PartRanges:
    """One part, its passage read once for each line that somebody sings."""
    notation = store.fetch(row.notation_digest)
    fifths = _fifths_or_none(notation)
    versions = {seat.musician_id: own.get((row.pk, seat.musician_id)) for seat in seats}
    line_of = {pk: UPPER if one is None else one.line for pk, one in versions.items()}
    notes = {
        line: read_passage(on_line(notation, line=line)).notes
        for line in {UPPER, *line_of.values()}
    }
    span = fit(notes[UPPER], None, None, tempo_qpm=tempo_qpm)
    return PartRanges(
        row.pk,
        row.part.name,
        row.printed,
        _range_words(span.lowest_midi, span.highest_midi),
        tuple(_offer(move, fifths) for move in OFFERED if _can_be_set(move, fifths)),
        tuple(
            _singer_line(
                seat,
                _semitones(versions[seat.musician_id]),
                seat.musician_id in sent,
                _range_of(seat, row.part.instrument, ranges),
                notes[line_of[seat.musician_id]],
                fifths,
                tempo_qpm,
            )
            for seat in seats
        ),
    )


def _fifths_or_none(notation: bytes) -> int | None:
    """The key signature of a cut, ``None`` for one that is not counted in sharps or flats."""
    try:
        return fifths_of(notation)
    except StandlightError:
        return None


def _can_be_set(semitones: int, fifths: int | None) -> bool:
    """False for another key where the present one is not counted in sharps or flats."""
    return fifths is not None or semitones % OCTAVE_SEMITONES == 0


def _semitones(own: OwnVersion | None) -> int:
    """How far a version is moved, 0 without one."""
    return 0 if own is None else own.semitones


def _singer_line(
    seat: Seat,
    semitones: int,
    locked: bool,
    range_of: SingerRange,
    notes: tuple[Note, ...],
    fifths: int | None,
    tempo_qpm: float,
) -> SingerLine:
    """One singer, with the passage as it is set for them now."""
    low, high = range_of.low_midi, range_of.high_midi
    written = fit(notes, low, high, tempo_qpm=tempo_qpm)
    now = fit(moved(notes, semitones), low, high, tempo_qpm=tempo_qpm)
    fitting = written.fitting_semitones
    if fitting is not None and not _can_be_set(fitting, fifths):
        fitting = None
    return SingerLine(
        seat.pk,
        seat.musician_id,
        seat.musician.name,
        range_of.words,
        _pitch(seat.comfort_low_midi),
        _pitch(seat.comfort_high_midi),
        seat.voice_changing,
        fit_words(replace(now, fitting_semitones=fitting), range_of.whose),
        None if fitting is None or now.fits else _offer(fitting, fifths),
        semitones,
        _offer(semitones, fifths).words if semitones else "",
        locked,
    )


def _range_of(
    seat: Seat, instrument: str, ranges: Mapping[str, InstrumentRanges]
) -> SingerRange:
    """The range marked for this singer, else the part's voice as the programme's table has it."""
    low, high = seat.comfort_low_midi, seat.comfort_high_midi
    changing = ", voice changing: not rated on range" if seat.voice_changing else ""
    if low is not None or high is not None:
        words = f"comfortable {_range_words(low, high)}{changing}"
        return SingerRange(low, high, words, "this singer's comfortable range")
    voice = ranges.get(instrument)
    if voice is None:
        return SingerRange(None, None, f"no range is known{changing}", "")
    low, high = voice.school.low_midi, voice.school.high_midi
    words = f"none marked; {instrument} is usually {_range_words(low, high)}{changing}"
    return SingerRange(low, high, words, f"the usual range of {instrument}")


def _range_words(low_midi: int | None, high_midi: int | None) -> str:
    """Both ends of a range as pitch names, or the one that is known; empty for none.

    >>> _range_words(60, 79), _range_words(None, 67)
    ('C4 to G5', 'up to G4')
    """
    if low_midi is None or high_midi is None:
        words = ("from", low_midi) if high_midi is None else ("up to", high_midi)
        return "" if words[1] is None else f"{words[0]} {_pitch(words[1])}"
    return f"{_pitch(low_midi)} to {_pitch(high_midi)}"


def _pitch(midi: int | None) -> str:
    """A pitch by name, empty for none."""
    return "" if midi is None else pitch_name(midi)


def _offer(semitones: int, fifths: int | None) -> Offer:
    """A way to set a passage whose key signature is ``fifths``, with the new one in words.

    >>> _offer(-2, 0).words, _offer(-12, 0).words
    ('a whole step lower, 2 flats', 'an octave lower')
    """
    words = shift_words(semitones)
    if fifths is not None and semitones % OCTAVE_SEMITONES:
        words += f", {key_words(moved_fifths(fifths, semitones))}"
    return Offer(semitones, words)
