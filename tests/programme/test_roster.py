"""Taking in a roster: seen first, all good rows or nothing, nobody removed."""

import pytest

from standlight.errors import NotAllowed, StandlightError
from standlight.programme.actions import roster
from standlight.programme.models import Casting, Musician, Part, Piece, Seat
from standlight.programme.queries.roster import (
    instrument_named,
    musicians_page,
    roster_preview,
    roster_rows,
)
from standlight.programme.roster_file import read_roster, roster_csv

pytestmark = pytest.mark.django_db

HEAD = "roster_id,given_name,family_name,grade,ensemble,section,instrument,way,accommodation"


def csv_of(*lines, head=HEAD):
    return "\n".join([head, *lines]).encode()


def test_a_new_musician_gets_an_account_that_no_pin_opens_yet(cast):
    data = csv_of("2001,Ines,Roth,6,Concert Band,Clarinet,,,")
    receipt = roster.take_in_roster(cast.director, data, leave_out_known=False)
    assert (receipt.n_added, receipt.n_sections_made, receipt.n_left_out) == (1, 0, 0)
    made = Musician.objects.get(programme=cast.programme, roster_id="2001")
    assert made.seats.get().section == cast.clarinets
    assert made.way == Musician.RECORD
    assert not made.account.has_usable_password()


def test_a_file_with_a_bad_row_changes_nothing_until_the_director_says_so(cast):
    data = csv_of(
        "2001,Ines,Roth,6,Concert Band,Clarinet,,,", "2002,Bo,Quist,99,Concert Band,Clarinet,,,"
    )
    with pytest.raises(StandlightError, match="1 rows cannot come in, so nothing was taken in"):
        roster.take_in_roster(cast.director, data, leave_out_known=False)
    assert not Musician.objects.filter(roster_id="2001").exists()
    roster.take_in_roster(cast.director, data, leave_out_known=True)
    assert Musician.objects.filter(roster_id="2001").exists()
    assert not Musician.objects.filter(roster_id="2002").exists()


def test_a_fault_half_way_leaves_no_half(cast, monkeypatch):
    def broken(*a, **k):
        raise RuntimeError("the disk is full")

    data = csv_of(
        "2001,Ines,Roth,6,Concert Band,Clarinet,,,", "2002,Bo,Quist,7,Concert Band,Clarinet,,,"
    )
    made = roster._made
    calls = []
    monkeypatch.setattr(
        roster, "_made", lambda *a: calls.append(1) or (made(*a) if len(calls) < 2 else broken())
    )
    with pytest.raises(RuntimeError):
        roster.take_in_roster(cast.director, data, leave_out_known=True)
    assert not Musician.objects.filter(roster_id__in=["2001", "2002"]).exists()


def test_taking_the_same_file_in_twice_changes_nothing_the_second_time(cast):
    data = csv_of("2001,Ines,Roth,6,Concert Band,Clarinet,,live only,May sit")
    roster.take_in_roster(cast.director, data, leave_out_known=False)
    again = roster_preview(cast.director, data)
    assert (again.n_new, len(again.changed), again.n_same) == (0, 0, 1)
    roster.take_in_roster(cast.director, data, leave_out_known=False)
    assert Seat.objects.filter(musician__roster_id="2001").count() == 1


def test_a_newer_file_updates_and_removes_nobody(cast):
    data = csv_of("1001,Mina,Okafor-Hall,8,Concert Band,Clarinet,,,")
    preview = roster_preview(cast.director, data)
    (step,) = preview.changed
    assert step.changes == ("name: Mina Okafor becomes Mina Okafor-Hall", "grade 7 becomes 8")
    roster.take_in_roster(cast.director, data, leave_out_known=False)
    cast.musician.refresh_from_db()
    assert (cast.musician.name, cast.musician.grade) == ("Mina Okafor-Hall", 8)
    assert cast.musician.account.__class__.objects.get(
        pk=cast.musician.account_id
    ).shown_name == "Mina Okafor-Hall"
    assert Seat.objects.filter(musician=cast.second_musician, left_on__isnull=True).exists()


def test_an_empty_cell_leaves_what_is_known(cast):
    Musician.objects.filter(pk=cast.musician.pk).update(accommodation="May sit", way="live_only")
    data = csv_of("1001,Mina,Okafor,7,Concert Band,Clarinet,,,")
    roster.take_in_roster(cast.director, data, leave_out_known=False)
    cast.musician.refresh_from_db()
    assert (cast.musician.accommodation, cast.musician.way) == ("May sit", "live_only")


def test_an_id_that_belongs_to_somebody_else_never_overwrites_them(cast):
    data = csv_of("1001,Kai,Moreno,8,Concert Band,Clarinet,,,")
    preview = roster_preview(cast.director, data)
    assert preview.steps == ()
    assert "is Mina Okafor here, but Kai Moreno in the file" in preview.left_out[0].sentence
    with pytest.raises(StandlightError, match="no row that can come in"):
        roster.take_in_roster(cast.director, data, leave_out_known=True)
    cast.musician.refresh_from_db()
    assert cast.musician.name == "Mina Okafor"


def test_an_unknown_ensemble_or_section_is_a_remark_that_names_what_there_is(cast):
    preview = roster_preview(
        cast.director,
        csv_of(
            "2001,Ines,Roth,6,Jazz Band,Clarinet,,,",
            "2002,Bo,Quist,7,Concert Band,Kazoos,,,",
            "2003,Lu,Tran,7,Concert Band,Kazoos,Kazoo,,",
        ),
    )
    first, second, third = preview.left_out
    assert "no ensemble “Jazz Band”" in first.sentence and "Concert Band" in first.sentence
    assert "no section “Kazoos”" in second.sentence and "Clarinet" in second.sentence
    assert "“Kazoo” is not in the list" in third.sentence
    assert preview.steps == ()


def test_a_section_is_made_when_its_name_or_the_instrument_says_what_it_plays(cast):
    data = csv_of(
        "2001,Ines,Roth,6,Concert Band,Flute,,,",
        "2002,Bo,Quist,6,concert band,flute,,,",
        "2003,Lu,Tran,6,Concert Band,Low Brass,Trombone,,",
    )
    preview = roster_preview(cast.director, data)
    assert [(made.name, made.instrument, made.n_musicians) for made in preview.new_sections] == [
        ("Flute", "Flute", 2),
        ("Low Brass", "Trombone", 1),
    ]
    roster.take_in_roster(cast.director, data, leave_out_known=False)
    flutes, brass = cast.band.sections.filter(name__in=["Flute", "Low Brass"])
    assert (flutes.name, brass.instrument) == ("Flute", "Trombone")
    assert flutes.seats.count() == 2


def test_a_change_of_section_moves_the_seat_and_gives_the_parts_anew(cast):
    piece = Piece.objects.create(ensemble=cast.band, title="March")
    part = Part.objects.create(piece=piece, index=0, name="Clarinet 1")
    seat = cast.musician.seats.get()
    Casting.objects.create(seat=seat, piece=piece, part=part)
    data = csv_of("1001,Mina,Okafor,7,Concert Band,Percussion,,,")
    (step,) = roster_preview(cast.director, data).changed
    assert step.changes == ("moves from Clarinet to Percussion",)
    roster.take_in_roster(cast.director, data, leave_out_known=False)
    seat.refresh_from_db()
    assert seat.section == cast.snares
    assert not Casting.objects.filter(seat=seat).exists()


def test_two_rows_in_one_ensemble_are_two_seats(cast):
    data = csv_of(
        "1001,Mina,Okafor,7,Concert Band,Clarinet,,,",
        "1001,Mina,Okafor,7,Concert Band,Percussion,,,",
    )
    roster.take_in_roster(cast.director, data, leave_out_known=False)
    assert {seat.section for seat in cast.musician.seats.all()} == {cast.clarinets, cast.snares}


def test_a_second_director_seats_a_stranger_to_them_without_changing_who_they_are(cast):
    data = csv_of("1003,Ada,Okafor,12,Concert Band,Clarinet,,neither,Changed by band")
    roster.take_in_roster(cast.second_director, data, leave_out_known=False)
    cast.singer.refresh_from_db()
    assert (cast.singer.grade, cast.singer.accommodation) == (9, "")
    assert cast.singer.seats.filter(section=cast.clarinets).exists()


def test_a_second_director_cannot_bring_anyone_into_an_ensemble_they_do_not_direct(cast):
    preview = roster_preview(
        cast.second_director, csv_of("2001,Ines,Roth,6,Mixed Choir,Soprano,,,")
    )
    assert preview.steps == ()
    assert "Mixed Choir" in preview.left_out[0].sentence
    assert "there are: Concert Band" in preview.left_out[0].sentence


def test_the_present_roster_reads_back_and_would_change_nothing(cast):
    rows = roster_rows(cast.director)
    assert [row.roster_id for row in rows] == ["1001", "1002", "1003"]
    data = roster_csv(rows)
    assert [row.name for row in read_roster(data).rows] == [row.name for row in rows]
    assert roster_preview(cast.director, data).n_same == 3


def test_trade_names_find_their_row_of_the_instruments_table():
    assert instrument_named("flute") == "Flute"
    assert instrument_named("Alto Sax") == "Alto saxophone in Eb"
    assert instrument_named("kazoo") is None


def test_by_hand_a_taken_id_a_bad_grade_and_a_foreign_section_are_refused(cast):
    cells = {"roster_id": "1001", "given_name": "Bo", "family_name": "Quist", "grade": "6"}
    with pytest.raises(StandlightError, match="1001 is taken"):
        roster.add_musician(cast.director, cast.clarinets, cells)
    with pytest.raises(StandlightError, match="grade 'x' is not a whole number"):
        roster.add_musician(cast.director, cast.clarinets, {**cells, "grade": "x"})
    with pytest.raises(NotAllowed):
        roster.add_musician(
            cast.second_director, cast.sopranos, {**cells, "roster_id": "2009"}
        )


def test_a_musician_changes_nothing_here_not_even_their_own_row(cast):
    me = cast.musician.account
    cells = {"roster_id": "2", "given_name": "M", "family_name": "O", "grade": "9"}
    for act in (
        lambda: roster.change_musician(me, cast.musician, cells),
        lambda: roster.add_musician(me, cast.clarinets, cells),
        lambda: roster.take_in_roster(me, csv_of(), leave_out_known=True),
        lambda: roster.make_ensemble(me, "Duo", "band", 1, 42),
        lambda: roster.seat_musician(me, cast.musician, cast.snares),
    ):
        with pytest.raises(NotAllowed):
            act()


def test_by_hand_an_emptied_accommodation_is_emptied(cast):
    Musician.objects.filter(pk=cast.musician.pk).update(accommodation="May sit")
    cells = {"given_name": "Mina", "family_name": "Okafor", "grade": "7", "way": "neither"}
    roster.change_musician(cast.director, cast.musician, cells)
    cast.musician.refresh_from_db()
    assert (cast.musician.accommodation, cast.musician.way) == ("", "neither")


def test_leaving_keeps_the_seat_row_and_empties_the_place(cast):
    seat = cast.musician.seats.get()
    roster.leave_seat(cast.director, seat)
    band = musicians_page(cast.director).ensembles[0]
    assert [len(section.musicians) for section in band.sections] == [0, 1]
    roster.seat_musician(cast.director, cast.musician, cast.clarinets)
    seat.refresh_from_db()
    assert seat.left_on is None


def test_sections_move_one_place_in_concert_order(cast):
    roster.move_section(cast.director, cast.snares, earlier=True)
    assert list(cast.band.sections.all()) == [cast.snares, cast.clarinets]
    roster.move_section(cast.director, cast.snares, earlier=True)
    assert list(cast.band.sections.all()) == [cast.snares, cast.clarinets]


def test_ensembles_and_sections_refuse_a_second_of_the_same_name(cast):
    with pytest.raises(StandlightError, match="named concert band already"):
        roster.make_ensemble(cast.director, "concert band", "band", 1, 42)
    with pytest.raises(StandlightError, match="has a section clarinet already"):
        roster.make_section(cast.director, cast.band, "clarinet", "Clarinet in Bb")
    with pytest.raises(StandlightError, match="not in the list"):
        roster.make_section(cast.director, cast.band, "Kazoos", "Kazoo")


def test_the_page_takes_the_same_few_queries_for_many_musicians(
    cast, django_assert_max_num_queries
):
    lines = [f"3{n:03},Given{n},Family,7,Concert Band,Clarinet,,," for n in range(40)]
    roster.take_in_roster(cast.director, csv_of(*lines), leave_out_known=False)
    with django_assert_max_num_queries(4):
        page = musicians_page(cast.director)
    assert page.ensembles[0].n_musicians == 42
