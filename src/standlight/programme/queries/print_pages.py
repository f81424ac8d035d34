"""What stands on the printed pages of a check: the same in the browser and in the PDF."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from html import unescape

from django.utils import timezone
from django.utils.html import strip_tags
from django.utils.safestring import SafeString

from standlight import workshop
from standlight.errors import StandlightError
from standlight.programme.dates import date_words
from standlight.programme.models import Casting, OwnVersion, PlayingCheck
from standlight.programme.notation import svgs_of
from standlight.programme.queries.checks import CheckPage, PassageLine
from standlight.programme.queries.lines import version_words
from standlight.workshop import Sheet

PAPERS = tuple(workshop.PAPERS)
"""The papers a PDF may be for."""

OWN_PLAYERS = "Short passages for this ensemble's own players; the school owns this music."
NOT_YET_OWNED = (
    "Short passages for this ensemble's own players; the school has not yet confirmed that it"
    " owns this music."
)
"""The copyright sentence, by what the school has confirmed."""

EVERYONE = "Everyone"


@dataclass(frozen=True, slots=True)
class PrintSheet:
    """One page: ``who`` it is for (empty for a whole part), ``part``, ``where`` in the music.

    ``svg`` is the music or a sentence why there is none, ``None`` on paper only; ``names``
    are those who share the page; ``moved`` says how a musician's own version differs.
    """

    who: str
    part: str
    where: str
    notation_digest: str = ""
    svg: SafeString | None = None
    names: tuple[str, ...] = ()
    moved: str = ""

    @property
    def slip(self) -> str:
        """Why there is no music, in plain words; empty where there is, and on paper only."""
        if not self.svg or self.svg.startswith("<svg"):
            return ""
        return unescape(strip_tags(self.svg))

    @property
    def shared_by(self) -> str:
        """Whom the page is for, where several share it."""
        return f"For {', '.join(self.names)}" if self.names else ""


@dataclass(frozen=True, slots=True)
class PrintPages:
    """All pages of a check, and what is the same on each."""

    check: CheckPage
    sheets: tuple[PrintSheet, ...]
    credit: str
    copyright: str


def print_pages(check: PlayingCheck, page: CheckPage, *, by_musician: bool) -> PrintPages:
    """One page a part, or one a musician with their own version where they have one."""
    if page.on_paper_only:
        sheets = list(_paper_sheets(page))
    else:
        sheets = list(_players_sheets(check, page) if by_musician else _part_sheets(page))
        drawings = svgs_of(sheet.notation_digest for sheet in sheets)
        sheets = [replace(sheet, svg=drawings[sheet.notation_digest]) for sheet in sheets]
    piece = check.piece
    owned = OWN_PLAYERS if page.owns_music else NOT_YET_OWNED
    return PrintPages(
        page,
        tuple(sheets),
        ". ".join(filter(None, (piece.title, piece.composer, piece.credit))),
        "" if page.on_paper_only else owned,
    )


def pages_pdf(pages: PrintPages, *, paper: str) -> bytes:
    """The pages in one PDF on a paper of `PAPERS`; raises `StandlightError` for no page at all."""
    if not pages.sheets:
        raise StandlightError(
            "there is no page to print", slip="nobody plays a part of this piece yet?"
        )
    made_unix_s = int(timezone.now().timestamp())
    return workshop.pages_pdf(
        pdf_sheets(pages), paper=paper, title=pages.check.title, made_unix_s=made_unix_s
    )


def pdf_sheets(pages: PrintPages) -> tuple[Sheet, ...]:
    """The same pages as values for the page-maker."""
    check = pages.check
    return tuple(
        Sheet(
            title=check.title,
            over=f"{check.word}, {check.ensemble_name}",
            lines=tuple(filter(None, (_facts(sheet, check), check.note, sheet.slip))),
            svg="" if sheet.slip else str(sheet.svg or ""),
            questions=tuple((one.name, one.question) for one in check.criteria),
            footer=tuple(filter(None, (sheet.shared_by, pages.credit, pages.copyright))),
        )
        for sheet in pages.sheets
    )


def _facts(sheet: PrintSheet, check: CheckPage) -> str:
    """Who plays what, where, how fast, and by when."""
    tempo = check.tempo_words
    return ". ".join(
        filter(
            None,
            (
                sheet.who,
                ", ".join(filter(None, (sheet.part, sheet.where))),
                sheet.moved,
                tempo[0].upper() + tempo[1:],
                f"Due {date_words(check.due_on, 'weekday')}.",
            ),
        )
    )


def _part_sheets(page: CheckPage) -> Iterator[PrintSheet]:
    """A page a part, in score order."""
    for line in page.passages:
        yield _sheet(line, names=line.players)


def _players_sheets(check: PlayingCheck, page: CheckPage) -> Iterator[PrintSheet]:
    """A page a musician, part by part, each with what this musician has before them."""
    part_of = dict(check.passages.values_list("pk", "part_id"))
    castings = (
        Casting.objects.filter(piece=check.piece_id, seat__left_on__isnull=True)
        .select_related("seat__musician")
        .order_by("seat__section__order", "seat__section_id", "seat__musician__family_name")
    )
    players = defaultdict(list)
    for casting in castings:
        players[casting.part_id].append(casting.seat.musician)
    own_versions = {
        (version.passage_id, version.musician_id): version
        for version in OwnVersion.objects.filter(passage__check_row=check)
    }
    for line in page.passages:
        for musician in players[part_of[line.pk]]:
            own = own_versions.get((line.pk, musician.pk))
            sheet = _sheet(line, who=musician.name)
            yield sheet if own is None else replace(
                sheet,
                notation_digest=own.notation_digest,
                moved=_moved_words(own),
            )


def _moved_words(own: OwnVersion) -> str:
    """What a printed page says of a musician's own version; empty where nothing differs."""
    words = version_words(own)
    return f"Your own version, {words}" if words else ""


def _sheet(line: PassageLine, *, who: str = "", names: tuple[str, ...] = ()) -> PrintSheet:
    """A page for a passage as it was cut."""
    return PrintSheet(who, line.part_name, line.where, line.notation_digest, names=names)


def _paper_sheets(page: CheckPage) -> Iterator[PrintSheet]:
    """The pages of a check on paper: everyone's place, then each section's own."""
    yield PrintSheet("", EVERYONE, page.for_everyone)
    for place in page.places:
        if place.printed:
            yield PrintSheet("", place.section_name, place.printed)
