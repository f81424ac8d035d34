"""The folder: a score, a typed line or a paper piece goes in; parts are given to musicians."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from functools import partial
from pathlib import PurePath

from django.db import transaction

from standlight import score, workshop
from standlight.errors import NotAllowed, StandlightError
from standlight.programme import store
from standlight.programme.actions.octaves import octave_questions
from standlight.programme.actions.passages import complete_open_checks
from standlight.programme.casting import PartFacts, SectionFacts, default_parts
from standlight.programme.models import (
    Account,
    Casting,
    ConcertCycle,
    Ensemble,
    Part,
    Piece,
    Seat,
)

LONGEST_TITLE = 160
LONGEST_CREDIT = 240
MOST_REMARKS_KEPT = 500
"""A damaged file can give thousands of remarks; a person reads the first screen."""


def confirm_owns_music(account: Account) -> None:
    """The school confirms that it owns the music it loads; said once, by any director."""
    if not account.is_director:
        raise NotAllowed("only a director confirms this")
    account.programme.owns_music = True
    account.programme.save(update_fields=["owns_music"])


def add_score(
    account: Account,
    ensemble: Ensemble,
    data: bytes,
    *,
    name: str,
    title: str = "",
    composer: str = "",
    credit: str = "",
    cycle: ConcertCycle | None = None,
) -> Piece:
    """Read a score file (``name`` is its file name), keep it, and give its parts out.

    An empty ``title`` or ``composer`` is taken from the file. A MIDI file is kept as the score
    made of it and the piece says so (``from_midi``). Raises `UnreadableScore` when it is
    neither; then nothing is kept.
    """
    _own(account, ensemble)
    from_midi = workshop.is_midi(data)
    if from_midi:
        data = workshop.score_of_midi(data, name=name)
    read = score.read_score(data, name=name)
    piece = Piece(
        ensemble=ensemble,
        cycle=_own_cycle(ensemble, cycle),
        title=_title(title or _title_of(read) or PurePath(name).stem),
        composer=(composer or read.composer).strip()[:LONGEST_TITLE],
        credit=credit.strip()[:LONGEST_CREDIT],
        from_midi=from_midi,
    )
    return _keep_piece(piece, read, data)


def add_typed_line(
    account: Account,
    ensemble: Ensemble,
    text: str,
    *,
    instrument: str,
    title: str,
    composer: str = "",
    cycle: ConcertCycle | None = None,
) -> Piece:
    """A piece of one part, typed in the plain form; raises `UnreadableLine` for a slip in it."""
    _own(account, ensemble)
    title = _title(title)
    if instrument not in score.INSTRUMENTS:
        raise StandlightError(f"the instrument {instrument!r} is not in the list")
    data = score.line_to_musicxml(text, instrument=instrument, title=title)
    piece = Piece(
        ensemble=ensemble,
        cycle=_own_cycle(ensemble, cycle),
        title=title,
        composer=composer.strip()[:LONGEST_TITLE],
        typed_line=text,
    )
    return _keep_piece(piece, score.read_score(data, name=title), data)


@transaction.atomic
def add_paper_piece(
    account: Account,
    ensemble: Ensemble,
    *,
    title: str,
    composer: str = "",
    cycle: ConcertCycle | None = None,
) -> Piece:
    """A piece that exists on paper only: checked by printed measures, rated by ear."""
    _own(account, ensemble)
    return Piece.objects.create(
        ensemble=ensemble,
        cycle=_own_cycle(ensemble, cycle),
        title=_title(title),
        composer=composer.strip()[:LONGEST_TITLE],
    )


@transaction.atomic
def change_piece(
    account: Account,
    piece: Piece,
    *,
    title: str,
    composer: str,
    credit: str,
    cycle: ConcertCycle | None,
) -> None:
    """Change what the folder says of a piece."""
    _own(account, piece.ensemble)
    piece.title = _title(title)
    piece.composer = composer.strip()[:LONGEST_TITLE]
    piece.credit = credit.strip()[:LONGEST_CREDIT]
    piece.cycle = _own_cycle(piece.ensemble, cycle)
    piece.save(update_fields=["title", "composer", "credit", "cycle"])


@transaction.atomic
def remove_piece(account: Account, piece: Piece) -> None:
    """Take a piece out of the folder; raises `NotAllowed` once a check has been made of it."""
    _own(account, piece.ensemble)
    if piece.checks.exists():
        raise NotAllowed("a piece with checks stays in the folder: their takes belong to it")
    piece.delete()


@transaction.atomic
def make_cycle(
    account: Account, ensemble: Ensemble, *, name: str, starts_on: date, concert_on: date
) -> ConcertCycle:
    """A concert cycle, from its first rehearsal to the concert."""
    _own(account, ensemble)
    name = name.strip()
    if not 0 < len(name) <= 80:
        raise StandlightError("a concert cycle needs a name of 1 to 80 characters")
    if concert_on < starts_on:
        raise StandlightError("the concert comes before the first rehearsal", slip="days swapped?")
    return ConcertCycle.objects.create(
        ensemble=ensemble, name=name, starts_on=starts_on, concert_on=concert_on
    )


def give_part(account: Account, seat: Seat, piece: Piece, part: Part | None) -> None:
    """Give a musician a part of a piece by hand, or take it away (``None``).

    A passage for a part that came into use is found after, since that reads the score.
    """
    _own(account, piece.ensemble)
    if seat.section.ensemble_id != piece.ensemble_id or (part and part.piece_id != piece.pk):
        raise StandlightError("seat, piece and part do not belong together")
    if part is None:
        Casting.objects.filter(seat=seat, piece=piece).delete()
        return
    Casting.objects.update_or_create(
        seat=seat, piece=piece, defaults={"part": part, "by_hand": True}
    )
    complete_open_checks(piece)


def cast_again(account: Account, piece: Piece) -> int:
    """Give all parts out anew by the default rule; what was given by hand stays."""
    _own(account, piece.ensemble)
    with transaction.atomic():
        Casting.objects.filter(piece=piece, by_hand=False).delete()
        count = _cast(piece)
    complete_open_checks(piece)
    return count


def cast_missing(piece: Piece) -> int:
    """Give a part by the default rule to everyone who has none; how many were given one.

    Open checks of the piece get a passage for a part that came into use, after the
    transaction: that reads the score.
    """
    count = _cast(piece)
    if count:
        complete_open_checks(piece)
    return count


@transaction.atomic
def _cast(piece: Piece) -> int:
    """The rows of `cast_missing`; how many."""
    parts = [
        PartFacts(part.pk, part.name, part.instrument, part.n_notes) for part in piece.parts.all()
    ]
    if not parts:
        return 0
    given = dict(Casting.objects.filter(piece=piece).values_list("seat_id", "part_id"))
    turn = Piece.objects.filter(ensemble=piece.ensemble_id, pk__lt=piece.pk).count()
    rows = [
        Casting(seat_id=seat, piece=piece, part_id=part)
        for section, seats in _seats_by_section(piece.ensemble)
        for seat, part in default_parts(section, seats, parts, given=given, turn=turn).items()
    ]
    Casting.objects.bulk_create(rows)
    return len(rows)


def cast_newcomers(ensemble: Ensemble) -> None:
    """Give everyone without a part in some piece of the ensemble one by the default rule.

    Part of somebody else's transaction: passages for parts that came into use are found
    when that is over, since finding reads the score.
    """
    for piece in ensemble.pieces.exclude(score_digest="").select_related("ensemble"):
        if _cast(piece):
            transaction.on_commit(partial(complete_open_checks, piece), robust=True)


def _seats_by_section(ensemble: Ensemble) -> list[tuple[SectionFacts, list[int]]]:
    """Each section with the seats taken today, in order of names."""
    seats = (
        Seat.objects.filter(section__ensemble=ensemble, left_on__isnull=True)
        .order_by("musician__family_name", "musician__given_name", "musician__roster_id")
        .values_list("section_id", "pk")
    )
    by_section: dict[int, list[int]] = {}
    for section, seat in seats:
        by_section.setdefault(section, []).append(seat)
    return [
        (SectionFacts(section.name, section.instrument), by_section.get(section.pk, []))
        for section in ensemble.sections.all()
    ]


def _keep_piece(piece: Piece, read: score.Score, data: bytes) -> Piece:
    """Save the piece with its parts and cast it, all or nothing."""
    with transaction.atomic():
        keep_score(piece, read, data)
        cast_missing(piece)
    return piece


@transaction.atomic
def keep_score(piece: Piece, read: score.Score, data: bytes) -> list[Part]:
    """Save ``piece`` with the score it was read from, and its parts, which come back."""
    piece.score_digest = store.keep(data)
    piece.measures = [_measure_facts(measure) for measure in read.measures]
    piece.remarks = [
        *octave_questions(read),
        *(_remark_facts(remark) for remark in read.remarks[:MOST_REMARKS_KEPT]),
    ]
    piece.tempo_qpm = next((one.tempo_qpm for one in read.measures if one.tempo_qpm), None)
    piece.save()
    return Part.objects.bulk_create(
        Part(
            piece=piece,
            index=part.index,
            name=part.name[:120],
            instrument=part.instrument,
            transposition_semitones=part.transposition_semitones,
            lowest_midi=part.lowest_midi,
            highest_midi=part.highest_midi,
            n_notes=len(part.notes),
            unpitched=part.unpitched,
        )
        for part in read.parts
    )


def _measure_facts(measure: score.Measure) -> Mapping[str, object]:
    """A measure as a piece keeps it."""
    return {
        "index": measure.index,
        "printed": measure.printed,
        "movement": measure.movement,
        "rehearsal": measure.rehearsal,
        "beats": measure.beats,
        "beat_unit": measure.beat_unit,
        "tempo_beat": str(measure.tempo_beat_quarters or ""),
    }


def _remark_facts(remark: score.Remark) -> Mapping[str, object]:
    """A reader's remark as a piece keeps it."""
    return {
        "code": remark.code,
        "sentence": remark.sentence,
        "part": remark.part,
        "measure": remark.measure,
    }


def _title_of(read: score.Score) -> str:
    """The file's title, with the movement's when it holds one movement of a larger work."""
    movement = read.movements[0] if len(read.movements) == 1 else ""
    if movement and read.title and movement.lower() != read.title.lower():
        return f"{read.title}: {movement}"
    return read.title  # without a title the only movement is called by its number


def _title(text: str) -> str:
    """A title that can be kept; raises `StandlightError` for an empty one."""
    title = " ".join(text.split())[:LONGEST_TITLE]
    if not title:
        raise StandlightError("the piece needs a title")
    return title


def _own(account: Account, ensemble: Ensemble) -> None:
    """Refuse an ensemble that the account does not direct."""
    seen = Ensemble.objects.visible_to(account).filter(pk=ensemble.pk)
    if not (account.is_director and seen.exists()):
        raise NotAllowed("this ensemble is not yours")


def _own_cycle(ensemble: Ensemble, cycle: ConcertCycle | None) -> ConcertCycle | None:
    """The cycle, refused when it is another ensemble's."""
    if cycle is not None and cycle.ensemble_id != ensemble.pk:
        raise StandlightError("this concert cycle is another ensemble's")
    return cycle
