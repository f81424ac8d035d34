"""The folder: pieces come in whole or not at all, and parts are given out."""

import datetime
from pathlib import Path

import pytest

from standlight.errors import NotAllowed, StandlightError, UnreadableLine, UnreadableScore
from standlight.programme import store
from standlight.programme.actions import folder, roster
from standlight.programme.models import Casting, Part, Piece, Section
from standlight.programme.queries.folder import folder_page, piece_page, remark_lines, share_words
from tests.cast import add_musician

pytestmark = pytest.mark.django_db

LANTERN = Path(__file__).resolve().parents[2] / "demo" / "music" / "lantern_walk.musicxml"
ENTITIES = b"""<?xml version="1.0"?><!DOCTYPE score-partwise [<!ENTITY a "b">]>
<score-partwise><part-list/><part id="P1"/></score-partwise>"""
SILENT_PART = """<score-partwise version="4.0"><work><work-title>Two</work-title></work><part-list>
<score-part id="P1"><part-name>Clarinet in Bb</part-name></score-part>
<score-part id="P2"><part-name>Snare drum</part-name></score-part></part-list>
<part id="P1">{notes}</part><part id="P2">{rests}</part></score-partwise>"""


def score_of(n_measures=12):
    """A clarinet that plays and a snare drum that rests throughout."""
    head = (
        "<attributes><divisions>2</divisions><time><beats>4</beats><beat-type>4</beat-type></time>"
        "{extra}</attributes>"
    )
    clarinet = "<transpose><chromatic>-2</chromatic></transpose>"
    note = "<note><pitch><step>{}</step><octave>4</octave></pitch><duration>{}</duration></note>"
    notes = "".join(
        f'<measure number="{n + 1}">{head.format(extra=clarinet) if n == 0 else ""}'
        + "".join(note.format(*one) for one in zip("CDEF", (2, 1, 1, 4), strict=True))
        + "</measure>"
        for n in range(n_measures)
    )
    rests = "".join(
        f'<measure number="{n + 1}">{head.format(extra="") if n == 0 else ""}'
        '<note><rest measure="yes"/><duration>8</duration></note></measure>'
        for n in range(n_measures)
    )
    return SILENT_PART.format(notes=notes, rests=rests).encode()


@pytest.fixture
def piece(cast):
    return folder.add_score(cast.director, cast.band, score_of(), name="two.musicxml")


def test_a_score_comes_in_with_parts_ranges_and_measures(cast, piece):
    page = piece_page(cast.director, piece)
    assert (page.title, page.measures_words) == ("Two", "12 measures")
    clarinet, snare = page.parts
    # C4 to F4 written sound a whole tone lower on a B-flat clarinet: B-flat 3 to E-flat 4.
    assert (clarinet.range_words, clarinet.n_notes) == ("Bb3 to Eb4", 48)
    assert snare.range_words == "no notes"
    assert store.fetch(piece.score_digest) == score_of()


def test_parts_are_given_out_by_section_when_a_piece_comes_in(cast, piece):
    given = {casting.seat.section: casting.part.name for casting in piece.castings.all()}
    assert given == {cast.clarinets: "Clarinet in Bb", cast.snares: "Snare drum"}


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"%PDF-1.4 a scan", "not XML"),
        (b"<html><body/></html>", "not a score"),
        (ENTITIES, "entities"),
        (b"", "empty"),
        (b"<" + b"x" * 64_000_001, "more than the 64,000,000 allowed"),
    ],
    ids=["pdf", "html", "entities", "empty", "huge"],
)
def test_a_bad_score_is_refused_in_a_sentence_and_nothing_is_lost(cast, piece, data, words):
    with pytest.raises(UnreadableScore, match=words):
        folder.add_score(cast.director, cast.band, data, name="bad.musicxml")
    assert list(Piece.objects.all()) == [piece]


def test_a_typed_line_is_a_piece_of_one_part(cast):
    piece = folder.add_typed_line(
        cast.director, cast.band, "time 4/4\nC4 q D4 q E4 h | F4 w",
        instrument="Clarinet in Bb", title="Warm-up",
    )  # fmt: skip
    part = piece.parts.get()
    assert (part.instrument, part.n_notes, part.lowest_midi) == ("Clarinet in Bb", 4, 58)
    assert Casting.objects.get(piece=piece).seat.section == cast.clarinets


def test_a_slip_in_a_typed_line_is_named_and_nothing_is_kept(cast):
    with pytest.raises(UnreadableLine):
        folder.add_typed_line(
            cast.director, cast.band, "C4 q Z9 q", instrument="Flute", title="Slip"
        )
    assert not Piece.objects.exists()


def test_a_paper_piece_has_no_parts_and_says_so(cast):
    piece = folder.add_paper_piece(cast.director, cast.band, title="  Old   March ")
    assert piece.title == "Old March" and piece.on_paper_only
    with pytest.raises(StandlightError, match="needs a title"):
        folder.add_paper_piece(cast.director, cast.band, title=" ")


def test_a_part_given_by_hand_stays_when_parts_are_given_out_anew(cast, piece):
    seat = cast.musician.seats.get()
    snare = piece.parts.get(name="Snare drum")
    folder.give_part(cast.director, seat, piece, snare)
    folder.cast_again(cast.director, piece)
    assert Casting.objects.get(seat=seat, piece=piece).part == snare
    folder.give_part(cast.director, seat, piece, None)
    folder.cast_again(cast.director, piece)
    assert Casting.objects.get(seat=seat, piece=piece).part.name == "Clarinet in Bb"


def test_a_late_joiner_is_given_a_part_of_every_piece(cast, piece):
    cells = {"roster_id": "9", "given_name": "Bo", "family_name": "Quist", "grade": "7"}
    late = roster.add_musician(cast.director, cast.clarinets, cells)
    assert Casting.objects.get(seat=late.seats.get(), piece=piece).part.name == "Clarinet in Bb"


def test_parts_seats_and_pieces_of_others_are_refused(cast, piece):
    seat = cast.musician.seats.get()
    other = folder.add_score(cast.director, cast.choir, score_of(), name="choir.xml")
    with pytest.raises(StandlightError, match="do not belong together"):
        folder.give_part(cast.director, seat, piece, other.parts.first())
    with pytest.raises(StandlightError, match="do not belong together"):
        folder.give_part(cast.director, seat, other, other.parts.first())
    for act in (
        lambda: folder.give_part(cast.outsider_director, seat, piece, None),
        lambda: folder.cast_again(cast.second_director, other),
        lambda: folder.remove_piece(cast.outsider_director, piece),
        lambda: folder.add_paper_piece(cast.second_director, cast.choir, title="x"),
    ):
        with pytest.raises(NotAllowed):
            act()


def test_a_real_band_piece_is_cast_for_a_whole_band(cast):
    Section.objects.create(ensemble=cast.band, name="Flute", instrument="Flute", order=0)
    flutes = cast.band.sections.get(name="Flute")
    for n in range(5):
        add_musician(cast.programme, flutes, f"5{n}", f"Given{n}", "Family")
    piece = folder.add_score(cast.director, cast.band, LANTERN.read_bytes(), name=LANTERN.name)
    page = piece_page(cast.director, piece)
    assert page.n_without_part == 0
    assert page.sections[0].name == "Flute" and len(page.sections[0].rows) == 5


def test_remarks_with_one_sentence_are_gathered_with_their_places(cast, piece):
    piece.remarks = [
        {"code": "tie", "sentence": "A tie ends here.", "part": 0, "measure": n} for n in range(5)
    ]
    (line,) = remark_lines(piece, list(piece.parts.all()))
    assert line.sentence == "A tie ends here."
    assert line.where.startswith("Clarinet in Bb, measure 1; ")
    assert line.where.endswith("and 2 more places")


def test_the_share_of_the_work_counts_each_measure_once(cast, piece):
    from standlight.programme.models import CheckPassage, PlayingCheck

    assert "No passage" in share_words(piece)
    check = PlayingCheck.objects.create(
        ensemble=cast.band, piece=piece, title="x", criteria=[], tempo_qpm=80,
        due_on=datetime.date(2026, 11, 2), made_by=cast.director,
    )  # fmt: skip
    for part, (first, last) in zip(piece.parts.all(), [(0, 3), (2, 5)], strict=True):
        CheckPassage.objects.create(
            check_row=check, part=part, first_measure=first, last_measure=last
        )
    assert "6 of its 12 measures (50 percent)" in share_words(piece)


def test_cycles_hold_pieces_and_refuse_a_concert_before_its_first_rehearsal(cast):
    day = datetime.date(2026, 12, 1)
    with pytest.raises(StandlightError, match="comes before the first rehearsal"):
        folder.make_cycle(
            cast.director, cast.choir, name="Spring", starts_on=day,
            concert_on=day - datetime.timedelta(1),
        )  # fmt: skip
    cycle = folder.make_cycle(
        cast.director, cast.choir, name="Spring", starts_on=day, concert_on=day
    )
    folder.add_paper_piece(cast.director, cast.choir, title="Song", cycle=cycle)
    band, choir = folder_page(cast.director).ensembles
    assert [one.title for one in choir.cycles[0].pieces] == ["Song"]
    assert band.cycles[0].name == "Winter concert"
    with pytest.raises(StandlightError, match="another ensemble"):
        folder.add_paper_piece(cast.director, cast.band, title="March", cycle=cycle)


def test_the_list_takes_a_few_queries_whatever_it_holds(cast, django_assert_max_num_queries):
    for n in range(12):
        folder.add_paper_piece(cast.director, cast.band, title=f"Piece {n}")
    with django_assert_max_num_queries(4):
        folder_page(cast.director)


def test_a_piece_leaves_the_folder_with_its_parts(cast, piece):
    folder.remove_piece(cast.director, piece)
    assert not Part.objects.exists()
