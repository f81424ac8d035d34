"""Checks: the list with where each stands, one check with its passages, its printed pages."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from fractions import Fraction

from django.utils import timezone
from django.utils.safestring import SafeString

from standlight.criteria import CRITERIA, Criterion
from standlight.music import BEAT_NAMES, beat_of_meter
from standlight.programme.models import (
    Account,
    Casting,
    CheckPassage,
    Piece,
    PlayingCheck,
    Seat,
)
from standlight.programme.notation import WIDE_MM, drawn, svgs_of
from standlight.programme.pitch_targets import target_words
from standlight.programme.queries.standing import (
    EXCUSED,
    NOT_ASKED,
    SENT,
    WAITING,
    one_seat_each,
    seats_of,
    standing,
    turns_of,
)
from standlight.programme.queries.years import year_begins
from standlight.ratings.levels import LEVEL_NAMES


@dataclass(frozen=True, slots=True)
class Beat:
    """What a piece is counted in: its length in quarters and its name."""

    quarters: float
    words: str

    def tempo_words(self, tempo_qpm: float) -> str:
        """A tempo as it is printed.

        >>> Beat(1.5, "dotted quarter note").tempo_words(96)
        'dotted quarter note 64'
        """
        return f"{self.words} {round(tempo_qpm / self.quarters, 1):g}"


QUARTER = Beat(1.0, "quarter note")


@dataclass(frozen=True, slots=True)
class CheckLine:
    """A check in the list: sent ``n_sent`` of ``n_asked``, ``n_waiting`` not yet rated.

    ``earlier``: it was due in a school year that is over.
    """

    pk: int
    title: str
    ensemble_name: str
    piece_title: str
    due_on: date
    published: bool
    n_asked: int
    n_sent: int
    n_waiting: int
    earlier: bool = False


@dataclass(frozen=True, slots=True)
class LevelWords:
    """A level with what it sounds like for one criterion."""

    name: str
    descriptor: str


@dataclass(frozen=True, slots=True)
class CriterionWords:
    """A criterion as musicians read it."""

    key: str
    name: str
    question: str
    levels: tuple[LevelWords, ...]
    has_readings: bool


@dataclass(frozen=True, slots=True)
class MeasureChoice:
    """A measure to begin or end at; ``label`` is its printed number, made unmistakable."""

    index: int
    label: str


@dataclass(frozen=True, slots=True)
class PassageLine:
    """One part's passage (or, on paper, one section's), with who plays it.

    ``svg`` is ``None`` while it is not drawn yet; ``music`` is false when there is no
    notation at all (the part rests, or the piece is on paper). ``demand`` (0 to 1) and
    ``shows`` are as they were found; ``others`` are other places as they are kept.
    """

    pk: int
    part_name: str
    players: tuple[str, ...]
    sections: tuple[str, ...]
    first: int | None
    last: int | None
    printed: str
    reason: str
    moved: bool
    music: bool
    notation_digest: str
    svg: SafeString | None = None
    part_index: int = 0
    instrument: str = ""
    demand: float | None = None
    shows: Mapping[str, float] = field(default_factory=dict)
    others: tuple[Mapping[str, object], ...] = ()

    @property
    def plays(self) -> bool:
        """True when it has something to play, as notation or from paper."""
        return self.music or bool(self.printed)

    @property
    def where(self) -> str:
        """What it plays, in words; empty for nothing."""
        if self.first is not None and self.printed:
            return f"measure{'' if self.first == self.last else 's'} {self.printed}"
        return self.printed


@dataclass(frozen=True, slots=True)
class PaperPlace:
    """A section of a paper check and its own place, empty when it plays what everyone plays."""

    section_pk: int
    section_name: str
    printed: str


@dataclass(frozen=True, slots=True)
class CheckPage:
    """One check as the director sees it.

    ``tuned_to`` says what intonation is read against where it is not equal temperament.
    """

    pk: int
    title: str
    word: str
    piece_pk: int
    piece_title: str
    composer: str
    ensemble_name: str
    criteria: tuple[CriterionWords, ...]
    criteria_keys: tuple[str, ...]
    tempo_qpm: float
    beat: Beat
    due_on: date
    asks_self_rating: bool
    together: bool
    pitch_target: str
    tonic: str
    tuned_to: str
    note: str
    published: bool
    anything_sent: bool
    on_paper_only: bool
    owns_music: bool
    from_midi: bool
    has_model_take: bool
    passages: tuple[PassageLine, ...]
    resting: tuple[PassageLine, ...]
    for_everyone: str
    places: tuple[PaperPlace, ...]
    without: tuple[str, ...]
    measures: tuple[MeasureChoice, ...]
    try_counts: str
    tries_until: date | None
    try_choices: tuple[tuple[str, str], ...] = tuple(PlayingCheck.TRY_COUNTS.items())

    @property
    def tempo_words(self) -> str:
        """The tempo as it is printed, in the beat of the piece."""
        return self.beat.tempo_words(self.tempo_qpm)

    @property
    def apart(self) -> bool:
        """True when musicians record together but their parts have different places."""
        places = {(line.first, line.last) for line in self.passages if line.first is not None}
        return self.together and len(places) > 1


def beat_of(piece: Piece) -> Beat:
    """What the piece is counted in at its first measure: as its tempo is printed, else its meter.

    Quarters on paper only.
    """
    if not piece.measures:
        return QUARTER
    first = piece.measures[0]
    printed = Fraction(first.get("tempo_beat") or 0)
    quarters = printed or beat_of_meter(first["beats"], first["beat_unit"])
    name = BEAT_NAMES.get(quarters)
    return QUARTER if name is None else Beat(float(quarters), f"{name} note")


def tuned_to(check: PlayingCheck) -> str:
    """What intonation is read against, in words; empty for equal temperament or no such reading."""
    if "intonation" not in check.criteria or check.together:
        return ""
    return target_words(check.pitch_target, check.tonic, singing=check.is_singing)


def check_lines(account: Account) -> tuple[CheckLine, ...]:
    """Every check the director sees, the latest due first. Three queries and one an ensemble."""
    checks = list(
        PlayingCheck.objects.visible_to(account)
        .select_related("ensemble", "piece")
        .defer("piece__measures", "piece__remarks")
    )
    today = timezone.localdate()
    begins = year_begins(account.programme_id, today)
    turns = turns_of(checks)
    seats = {
        check.ensemble_id: one_seat_each(seats_of(check.ensemble), today)
        for check in {check.ensemble_id: check for check in checks}.values()
    }
    lines = []
    for check in checks:
        states = [
            standing(seat, check.due_on, today, turns.get((check.pk, seat.musician_pk), ())).state
            for seat in seats[check.ensemble_id]
        ]
        lines.append(
            CheckLine(
                check.pk,
                check.title,
                check.ensemble.name,
                check.piece.title,
                check.due_on,
                check.published_at is not None,
                n_asked=sum(state not in (NOT_ASKED, EXCUSED) for state in states),
                n_sent=sum(state in SENT for state in states),
                n_waiting=sum(state == WAITING for state in states),
                earlier=begins is not None and check.due_on < begins,
            )
        )
    return tuple(lines)


def check_page(
    account: Account, check: PlayingCheck, *, with_music: bool = True
) -> CheckPage:
    """One check with the passages of the parts in use, drawn as far as they are kept.

    Without ``with_music`` no drawing is fetched.
    """
    seats = list(
        Seat.objects.filter(section__ensemble=check.ensemble_id, left_on__isnull=True)
        .select_related("musician", "section")
        .order_by("section__order", "section_id", "musician__family_name", "pk")
    )
    castings = dict(
        Casting.objects.filter(piece=check.piece_id, seat__in=seats).values_list(
            "seat_id", "part_id"
        )
    )
    rows = list(check.passages.select_related("part", "section"))
    paper = {row.section_id: row.printed for row in rows if row.part_id is None}
    lines = [
        passage_line(
            row,
            [seat for seat in seats if castings.get(seat.pk) == row.part_id],
            with_music=with_music,
        )
        for row in rows
        if row.part_id is not None
    ]
    used = [line for line in lines if line.players]
    return CheckPage(
        pk=check.pk,
        title=check.title,
        word="Singing check" if check.is_singing else "Playing check",
        piece_pk=check.piece_id,
        piece_title=check.piece.title,
        composer=check.piece.composer,
        ensemble_name=check.ensemble.name,
        criteria=tuple(criterion_words(CRITERIA[key]) for key in check.criteria),
        criteria_keys=tuple(check.criteria),
        tempo_qpm=check.tempo_qpm,
        beat=beat_of(check.piece),
        due_on=check.due_on,
        asks_self_rating=check.asks_self_rating,
        together=check.together,
        pitch_target=check.pitch_target,
        tonic=check.tonic,
        tuned_to=tuned_to(check),
        note=check.note,
        published=check.published_at is not None,
        anything_sent=check.turns.filter(sent_at__isnull=False).exists(),
        on_paper_only=check.piece.on_paper_only,
        owns_music=check.ensemble.programme.owns_music,
        from_midi=check.piece.from_midi,
        has_model_take=bool(check.model_take_digest),
        passages=tuple(line for line in used if line.plays),
        resting=tuple(line for line in used if not line.plays),
        for_everyone=paper.get(None, ""),
        places=_places(check, paper, seats) if check.piece.on_paper_only else (),
        without=_without(check, seats, castings),
        measures=measure_choices(check.piece),
        try_counts=check.try_counts,
        tries_until=check.tries_until,
    )


def drawn_page(page: CheckPage) -> CheckPage:
    """The same page with every passage drawn, for print and for the projector."""
    svgs = svgs_of(line.notation_digest for line in page.passages)
    return replace(
        page,
        passages=tuple(
            replace(line, svg=svgs[line.notation_digest]) for line in page.passages
        ),
    )


def criterion_words(criterion: Criterion) -> CriterionWords:
    """A criterion with its four descriptors, the lowest first."""
    return CriterionWords(
        criterion.key,
        criterion.name,
        criterion.question,
        tuple(
            LevelWords(name, criterion.descriptors[level]) for level, name in LEVEL_NAMES.items()
        ),
        criterion.has_readings,
    )


def measure_choices(piece: Piece) -> tuple[MeasureChoice, ...]:
    """Every measure to choose from; a printed number that stands twice says which one.

    A rehearsal letter is said with its measure.
    """
    counts: dict[str, int] = {}
    by_movement: dict[tuple[int, str], int] = {}
    for measure in piece.measures:
        counts[measure["printed"]] = counts.get(measure["printed"], 0) + 1
        place = (measure["movement"], measure["printed"])
        by_movement[place] = by_movement.get(place, 0) + 1
    choices = []
    for measure in piece.measures:
        printed, movement = measure["printed"], measure["movement"]
        label = printed or "without a number"
        if counts[printed] > 1:
            label += (
                f" (movement {movement + 1})"
                if by_movement[movement, printed] == 1
                else f" (measure {measure['index'] + 1} of the file)"
            )
        if measure.get("rehearsal"):
            label += f", letter {measure['rehearsal']}"
        choices.append(MeasureChoice(measure["index"], label))
    return tuple(choices)


def passage_line(
    row: CheckPassage, seats: Iterable[Seat], *, with_music: bool = True
) -> PassageLine:
    """A passage with the names and sections of those who play it."""
    seats = list(seats)
    return PassageLine(
        pk=row.pk,
        part_name=row.part.name,
        players=tuple(seat.musician.name for seat in seats),
        sections=tuple(dict.fromkeys(seat.section.name for seat in seats)),
        first=row.first_measure,
        last=row.last_measure,
        printed=row.printed,
        reason=row.reason,
        moved=row.moved_by_hand,
        music=bool(row.notation_digest),
        notation_digest=row.notation_digest,
        svg=drawn(row.notation_digest, width_mm=WIDE_MM) if with_music else None,
        part_index=row.part.index,
        instrument=row.part.instrument,
        demand=row.demand,
        shows=row.shows,
        others=tuple(row.alternatives),
    )


def _places(
    check: PlayingCheck, paper: dict[int | None, str], seats: list[Seat]
) -> tuple[PaperPlace, ...]:
    """The sections of a paper check, each with its own place."""
    return tuple(
        PaperPlace(section.pk, section.name, paper.get(section.pk, ""))
        for section in check.ensemble.sections.all()
        if any(seat.section_id == section.pk for seat in seats)
    )


def _without(check: PlayingCheck, seats: list[Seat], castings: dict[int, int]) -> tuple[str, ...]:
    """Names of musicians who have no part in a piece with notation."""
    if check.piece.on_paper_only:
        return ()
    return tuple(
        f"{seat.musician.name} ({seat.section.name})" for seat in seats if seat.pk not in castings
    )
