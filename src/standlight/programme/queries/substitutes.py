"""What a part could play instead of its own line: other movements, other pieces, a typed line."""

from __future__ import annotations

from dataclasses import dataclass, replace
from statistics import median

from standlight.criteria import CRITERIA
from standlight.errors import StandlightError
from standlight.passages import MOST_FIFTHS, find_passages, look
from standlight.programme import store
from standlight.programme.models import CheckPassage, Part, PlayingCheck
from standlight.programme.queries.checks import passage_line
from standlight.programme.queries.passage_page import OtherPlace, survey_or_none
from standlight.programme.queries.places import nearest_by_movement
from standlight.programme.queries.seeing import missing_words, points_of, shows_words
from standlight.programme.surveys import survey_of
from standlight.score import INSTRUMENTS, fifths_of, moved_fifths, warm_up_line

SLOWEST_TYPED, FASTEST_TYPED = 20.0, 320.0
"""What the typed form takes as a tempo."""


@dataclass(frozen=True, slots=True)
class OtherPart:
    """A part for the same instrument in another piece of the ensemble."""

    pk: int
    piece_title: str
    part_name: str


@dataclass(frozen=True, slots=True)
class SubstitutesPage:
    """Offers for one part; ``looked_at`` is the other piece's part whose ``places`` are shown.

    ``instruments`` is empty where the part's own is known.
    """

    pk: int
    check_pk: int
    check_title: str
    part_name: str
    where: str
    reason: str
    movements: tuple[OtherPlace, ...]
    other_parts: tuple[OtherPart, ...]
    looked_at: OtherPart | None
    places: tuple[OtherPlace, ...]
    line: str
    instruments: tuple[str, ...]


def substitutes_page(
    check: PlayingCheck, passage: CheckPassage, looked_at: Part | None
) -> SubstitutesPage:
    """What the part of ``passage`` could play instead; ``looked_at`` is searched for places."""
    part = passage.part
    others = _other_parts(check, part)
    chosen = next((one for one in others if looked_at and one.pk == looked_at.pk), None)
    known = part.instrument in INSTRUMENTS
    return SubstitutesPage(
        pk=passage.pk,
        check_pk=check.pk,
        check_title=check.title,
        part_name=part.name,
        where=passage_line(passage, (), with_music=False).where,
        reason=passage.reason,
        movements=_movements(check, passage),
        other_parts=others,
        looked_at=chosen,
        places=_places(check, looked_at) if chosen and looked_at else (),
        line=_line(check, passage),
        instruments=() if known else tuple(INSTRUMENTS),
    )


def as_if_of(check: PlayingCheck, part: Part) -> PlayingCheck:
    """A check like ``check`` of the piece that ``part`` belongs to; never saved."""
    return PlayingCheck(
        ensemble=check.ensemble,
        piece=part.piece,
        tempo_qpm=check.tempo_qpm,
        criteria=check.criteria,
    )


def _other_parts(check: PlayingCheck, part: Part) -> tuple[OtherPart, ...]:
    """Parts for the same instrument in the ensemble's other pieces, by title."""
    if not part.instrument:
        return ()
    rows = (
        Part.objects.filter(piece__ensemble=check.ensemble_id, instrument=part.instrument)
        .exclude(piece=check.piece_id)
        .exclude(piece__score_digest="")
        .filter(n_notes__gt=0)
        .order_by("piece__title", "index")
        .values_list("pk", "piece__title", "name")
    )
    return tuple(OtherPart(*row) for row in rows)


def _movements(check: PlayingCheck, passage: CheckPassage) -> tuple[OtherPlace, ...]:
    """The part's best place in each movement of a piece that has several."""
    survey = survey_or_none(check)
    if survey is None or len(set(survey.setting.movements)) < 2:
        return ()
    demands = check.passages.filter(demand__isnull=False).values_list("demand", flat=True)
    level = median(demands) if demands else None
    criteria = [CRITERIA[key] for key in check.criteria]
    return tuple(
        OtherPlace(
            seen.first,
            seen.last,
            f"{seen.printed} of movement {movement + 1}",
            _words(seen.demand, seen.shows),
            seen.reason,
        )
        for movement, seen in nearest_by_movement(
            survey, passage.part.index, criteria, level
        )
    )


def _places(check: PlayingCheck, part: Part) -> tuple[OtherPlace, ...]:
    """Places of another piece's part that show the criteria, on this piece's scale of demand."""
    there, here = survey_of(as_if_of(check, part)), survey_or_none(check)
    criteria = [CRITERIA[key] for key in check.criteria]
    (finding,) = find_passages(there, criteria, parts={part.index}).parts
    found = [finding.passage] if finding.passage is not None else []
    on_scale = there if here is None else replace(there, scales=here.scales)
    looks = [
        look(on_scale, part.index, one.first, one.last, criteria)
        for one in [*found, *finding.alternatives]
    ]
    return tuple(
        OtherPlace(one.first, one.last, one.printed, _words(one.demand, one.shows), one.reason)
        for one in looks
    )


def _words(demand: float | None, shows: dict[str, float]) -> str:
    """Demand and what is shown, in words."""
    missing = missing_words(shows)
    said = [
        f"Demand {points_of(demand)}." if demand is not None else "",
        shows_words(shows),
        f"It {missing}." if missing and not shows_words(shows) else "",
    ]
    return " ".join(filter(None, said))


def _line(check: PlayingCheck, passage: CheckPassage) -> str:
    """A simple line in the piece's key for the part's instrument, to begin from."""
    instrument = INSTRUMENTS.get(passage.part.instrument)
    if instrument is None:
        return ""
    fifths = _written_fifths(check, passage.part)
    tempo_qpm = min(FASTEST_TYPED, max(SLOWEST_TYPED, check.tempo_qpm))
    return warm_up_line(instrument, fifths, tempo_qpm)


def _written_fifths(check: PlayingCheck, part: Part) -> int:
    """The key signature for a part, from that of another part's passage in the check.

    None (0) where no passage has notation, or its signature is not one of at most seven signs.
    """
    rows = check.passages.exclude(notation_digest="").filter(
        first_measure__isnull=False, part__unpitched=False
    )
    row = rows.select_related("part").first()
    if row is None:
        return 0
    try:
        written = fifths_of(store.fetch(row.notation_digest))
    except StandlightError:
        return 0
    if abs(written) > MOST_FIFTHS:
        return 0
    concert = moved_fifths(written, row.part.transposition_semitones % 12)
    return moved_fifths(concert, -part.transposition_semitones % 12)
