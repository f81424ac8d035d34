"""What a part plays when its own line has nothing: a typed line, another piece, or from paper.

Each becomes the row's notation (or its printed words), so print, the musician's page and
the hearing take it as they take any passage.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from standlight import score
from standlight.errors import NotAllowed, StandlightError
from standlight.passages import Look, Survey, look, survey_piece
from standlight.programme import store
from standlight.programme.actions.checks import keep_changed, may_move
from standlight.programme.actions.passages import (
    LONGEST_REASON,
    check_range,
    criteria_of,
    printed_range,
)
from standlight.programme.models import Account, CheckPassage, Part, PlayingCheck
from standlight.programme.queries.seeing import shows_words
from standlight.programme.queries.substitutes import as_if_of
from standlight.programme.surveys import survey_of
from standlight.score import lowered

TYPED = "the typed line"
"""What a musician's page says instead of measure numbers."""

LONGEST_PRINTED = 80


@dataclass(frozen=True, slots=True)
class _Substitute:
    """What is played instead: its notation, what to call it, what it shows, and why in words."""

    notation: bytes
    printed: str
    seen: Look
    lead: str


def play_typed_line(
    account: Account, passage: CheckPassage, text: str, *, instrument: str = ""
) -> None:
    """Let a part play a line typed in the plain form, as written in the players' own part.

    ``instrument`` is needed only where the part's own is not in the table. Raises
    `UnreadableLine` for a slip in the line.
    """
    check = passage.check_row
    _may_substitute(account, passage)
    known = passage.part.instrument or instrument
    data = score.line_to_musicxml(text, instrument=known, title=check.title)
    read = score.read_score(data, name=TYPED)
    own = survey_piece(read, length_measures=len(read.measures), tempo_qpm=check.tempo_qpm)
    last = len(read.measures) - 1
    seen = look(_on_scale_of(own, check), 0, 0, last, criteria_of(check))
    cut = score.cut_passage(data, 0, 0, last)
    _keep(account, passage, _Substitute(cut, TYPED, seen, "A typed line"))


def play_other_piece(
    account: Account, passage: CheckPassage, part: Part, first: int, last: int
) -> None:
    """Let a part play measures (0-based, inclusive) of ``part``, of another piece in the folder.

    The piece belongs to the same ensemble; the check's tempo holds.
    """
    check = passage.check_row
    _may_substitute(account, passage)
    piece = part.piece
    if piece.ensemble_id != check.ensemble_id or piece.on_paper_only:
        raise StandlightError("this piece is not among this ensemble's pieces with notation")
    check_range(piece, first, last)
    survey = survey_of(as_if_of(check, part))
    seen = look(_on_scale_of(survey, check), part.index, first, last, criteria_of(check))
    cut = score.cut_passage(store.fetch(piece.score_digest), part.index, first, last)
    where = f", measures {printed_range(piece, first, last)}"
    title = piece.title[: LONGEST_PRINTED - len(where)]
    cut = lowered(cut, part.octaves_moved)
    _keep(account, passage, _Substitute(cut, f"{title}{where}", seen, "From another piece"))


def play_from_paper(account: Account, passage: CheckPassage, printed: str) -> None:
    """Let a part play ``printed`` measures from paper: heard by ear, without readings."""
    _may_substitute(account, passage)
    printed = " ".join(printed.split())
    if not 0 < len(printed) <= LONGEST_PRINTED:
        raise StandlightError(
            f"name what is played in 1 to {LONGEST_PRINTED} characters",
            slip="such as: page 12, line 3",
        )
    passage.first_measure = passage.last_measure = passage.demand = None
    passage.shows, passage.notation_digest = {}, ""
    passage.printed, passage.moved_by_hand = printed, True
    passage.reason = "From paper: rated by ear, without readings."
    keep_changed(account, passage.check_row, [passage])


def _on_scale_of(survey: Survey, check: PlayingCheck) -> Survey:
    """The survey of other music on the demand scale of the check's own piece."""
    return replace(survey, scales=survey_of(check).scales)


def _may_substitute(account: Account, passage: CheckPassage) -> None:
    """Refuse what may not be moved, and a place that belongs to no part."""
    may_move(account, passage.check_row)
    if passage.part is None:
        raise NotAllowed("a paper passage is named by its printed measures")


def _keep(account: Account, passage: CheckPassage, given: _Substitute) -> None:
    """Keep a substitute as the passage's notation."""
    passage.first_measure = passage.last_measure = None
    notation = score.with_tempo(given.notation, passage.check_row.tempo_qpm)
    passage.notation_digest = store.keep(notation)
    passage.printed, passage.moved_by_hand = given.printed, True
    passage.demand, passage.shows = given.seen.demand, dict(given.seen.shows)
    words = " ".join([f"{given.lead}.", given.seen.reason, *given.seen.flags])
    if len(words) > LONGEST_REASON:
        words = f"{given.lead}. {shows_words(given.seen.shows)}"
    passage.reason = words
    keep_changed(account, passage.check_row, [passage])
