"""Parts without a passage: nearest places, a typed line, another piece, paper; and moving."""

import pytest
from django.db import connection

from standlight import score
from standlight.errors import NotAllowed, StandlightError, UnreadableLine
from standlight.programme import store
from standlight.programme.actions import checks, folder, passages, substitutes
from standlight.programme.models import (
    CheckPassage,
    PlayingCheck,
    Report,
    Seat,
    Section,
    Take,
    Turn,
)
from standlight.programme.queries.checks import check_page
from standlight.programme.queries.hearing import listening_task, passage_of
from standlight.programme.queries.my_check import check_page as musicians_page
from standlight.programme.queries.passage_page import passages_page
from standlight.programme.queries.place_page import place_page
from standlight.programme.queries.substitutes import substitutes_page
from standlight.programme.surveys import survey_of
from standlight.score import INSTRUMENTS, line_to_musicxml, read_passage
from standlight.score.warm_up import warm_up_line
from tests.cast import add_musician
from tests.programme.test_checks import facts
from tests.several_parts import PARTS, several_parts

pytestmark = pytest.mark.django_db
TRUMPET = "Trumpet / cornet / flugelhorn in Bb"
"""The trumpet's name in the table of instruments."""

CHOSEN = ("rhythm", "dynamics", "articulation")


def band_check(cast, score_file=None):
    """The cast's band with a flute and a trumpet: parts that play, drum on, and hardly play."""
    for order, (instrument, name) in enumerate(
        [("Flute", "Ida"), ("Trumpet in Bb", "Jon")], start=3
    ):
        section = Section.objects.create(
            ensemble=cast.band, name=instrument, instrument=instrument, order=order
        )
        add_musician(cast.programme, section, f"20{order}", name, "Alder")
    data = score_file or several_parts()
    piece = folder.add_score(cast.director, cast.band, data, name="four.musicxml")
    seat = Seat.objects.get(section__ensemble=cast.band, section__name="Trumpet in Bb")
    # The default rule gives nobody a part of one note.
    folder.give_part(cast.director, seat, piece, piece.parts.get(name="Trumpet in Bb"))
    return checks.make_check(cast.director, piece, facts(criteria=CHOSEN, tempo_qpm=96))


@pytest.fixture
def check(cast):
    return band_check(cast)


def row_of(check, name):
    return CheckPassage.objects.select_related("part__piece", "check_row__piece").get(
        check_row=check, part__name=name
    )


def heard_take(check, name):
    """A take of a section's musician, kept and heard but not sent."""
    turn = Turn.objects.create(check_row=check, musician=turn_of(check, name).musician)
    take = Take.objects.create(turn=turn, state=Take.HEARD, digest="0" * 64)
    Report.objects.create(take=take, method="earlier", body={})
    return take


def turn_of(check, name):
    seat = Seat.objects.get(section__ensemble=check.ensemble, section__instrument=name)
    return Turn(check_row=check, musician=seat.musician)


def test_the_page_tells_who_plays_and_who_has_none_with_the_nearest(cast, check):
    page = passages_page(check, check_page(cast.director, check))
    assert [row.part_name for row in page.rows] == ["Flute", "Clarinet in Bb"]
    assert [row.part_name for row in page.without] == ["Snare drum", "Trumpet in Bb"]
    assert page.n_nearest == 1  # the trumpet's one note is no place
    (near,) = page.without[0].others
    assert near.printed in {"9 to 16", "13 to 16"} or near.first >= 8
    assert "dynamics not at all" in near.words
    assert page.fairness.sentence.endswith("2 have none.")
    assert not page.other_criteria


def test_every_part_without_gets_its_nearest_place_by_one_act(cast, check):
    assert checks.give_nearest(cast.director, check) == ("Snare drum",)
    row = row_of(check, "Snare drum")
    assert row.notation_digest and row.moved_by_hand
    assert row.reason.startswith("The nearest place of this part. Rhythm:")
    assert row.shows["dynamics"] == 0.0
    page = passages_page(check, check_page(cast.director, check))
    assert [row.part_name for row in page.without] == ["Trumpet in Bb"]
    assert "does not really show dynamics" in page.rows[2].notes


def test_where_a_passage_was_stays_on_offer(cast, check):
    row = row_of(check, "Flute")
    was = (row.first_measure, row.last_measure)
    other = next(n for n in range(9) if n != row.first_measure)
    checks.move_passage(cast.director, row, other, other + 3)
    row = row_of(check, "Flute")
    assert (row.alternatives[0]["first"], row.alternatives[0]["last"]) == was
    checks.move_passage(cast.director, row, *was)
    row = row_of(check, "Flute")
    ends = [(one["first"], one["last"]) for one in row.alternatives]
    assert was not in ends and ends[0] == (other, other + 3)
    assert len(ends) == len(set(ends)) <= checks.MOST_OTHER_PLACES


def test_a_typed_line_is_played_printed_and_read_like_a_passage(cast, check):
    line = "time 4/4 key F tempo 90 p F4 q G4 A4 e A4 Bb4 q | f C5 q> C5 q> F4 h"
    substitutes.play_typed_line(cast.director, row_of(check, "Trumpet in Bb"), line)
    row = row_of(check, "Trumpet in Bb")
    assert (row.first_measure, row.last_measure, row.printed) == (None, None, "the typed line")
    assert row.moved_by_hand and row.reason.startswith("A typed line. Rhythm:")
    notes = read_passage(store.fetch(row.notation_digest)).notes
    # Written F4 on a B-flat trumpet sounds E-flat 4, MIDI 63.
    assert [note.midi for note in notes][:3] == [63, 65, 67]
    assert 0.0 <= row.demand <= 1.0 and row.shows["dynamics"] > 0.3
    turn = turn_of(check, "Trumpet in Bb")
    assert passage_of(turn) == row
    page = check_page(cast.director, check)
    assert "the typed line" in {one.where for one in page.passages}
    check.published_at = check.made_at
    check.save()
    mine = musicians_page(turn.musician.account, check)
    assert mine.where == "the typed line" and mine.has_notation


def test_the_hearing_reads_a_take_against_the_typed_line(cast, check):
    line = "time 4/4 C5 q D5 E5 F5 | G5 w"
    substitutes.play_typed_line(cast.director, row_of(check, "Flute"), line)
    turn = turn_of(check, "Flute")
    turn.save()
    take = turn.takes.create(number=1, digest=store.keep(b"sound"))
    task = listening_task(take.key)
    assert [note.midi for note in read_passage(task.notation).notes] == [72, 74, 76, 77, 79]
    assert task.terms.instrument == "Flute"


def test_a_slip_in_the_line_is_said_and_nothing_changes(cast, check):
    before = row_of(check, "Flute").notation_digest
    with pytest.raises(UnreadableLine, match="measure 1"):
        substitutes.play_typed_line(cast.director, row_of(check, "Flute"), "C5 q D5")
    assert row_of(check, "Flute").notation_digest == before


def test_measures_of_another_piece_become_the_notation(cast, check):
    other = folder.add_typed_line(
        cast.director, cast.band, "G4 q A4 B4 C5 | D5 h B4 | G4 w", instrument=TRUMPET,
        title="Long tones",
    )  # fmt: skip
    part = other.parts.get()
    row = row_of(check, "Trumpet in Bb")
    offered = substitutes_page(check, row, part)
    assert [(one.piece_title, one.pk) for one in offered.other_parts] == [("Long tones", part.pk)]
    substitutes.play_other_piece(cast.director, row, part, 1, 2)
    row = row_of(check, "Trumpet in Bb")
    assert row.printed == "Long tones, measures 2 to 3"
    midi = [note.midi for note in read_passage(store.fetch(row.notation_digest)).notes]
    assert midi == [72, 69, 65]  # D5 B4 G4 written, a whole tone lower
    with pytest.raises(StandlightError, match="no such measures"):
        substitutes.play_other_piece(cast.director, row, part, 1, 3)


def test_another_ensemble_s_piece_is_refused(cast, check):
    song = folder.add_typed_line(
        cast.director, cast.choir, "G4 w", instrument="Soprano", title="Song"
    )
    with pytest.raises(StandlightError, match="not among this ensemble"):
        substitutes.play_other_piece(
            cast.director, row_of(check, "Flute"), song.parts.get(), 0, 0
        )


def test_a_part_can_play_from_paper(cast, check):
    row = row_of(check, "Trumpet in Bb")
    substitutes.play_from_paper(cast.director, row, " page 12,  line 3 ")
    page = passages_page(check, check_page(cast.director, check))
    assert "page 12, line 3" in [row.where for row in page.rows]
    assert "1 plays something whose demand is not known." in page.fairness.sentence
    with pytest.raises(StandlightError, match="1 to 80"):
        substitutes.play_from_paper(cast.director, row, " ")


def test_substitutes_are_the_director_s_alone_and_not_after_sending(cast, check):
    row = row_of(check, "Flute")
    for account in (cast.outsider_director, cast.musician.account):
        for act in (
            lambda account=account: substitutes.play_typed_line(account, row, "C5 w"),
            lambda account=account: substitutes.play_from_paper(account, row, "page 1"),
            lambda account=account: checks.give_nearest(account, check),
            lambda account=account: checks.say_again(account, check),
        ):
            with pytest.raises(NotAllowed):
                act()
    turn = turn_of(check, "Flute")
    turn.sent_at = check.made_at
    turn.save()
    with pytest.raises(NotAllowed, match="already sent"):
        substitutes.play_typed_line(cast.director, row, "C5 w")


def test_the_offered_line_is_in_the_piece_s_key_and_in_the_part_s_range(cast, check):
    page = substitutes_page(check, row_of(check, "Trumpet in Bb"), None)
    # The flute's passage has no sharps or flats: concert C, so D on a B-flat trumpet's page.
    assert page.line.startswith("time 4/4 key D tempo 96 p ( D")
    notes = read_passage(line_to_musicxml(page.line, instrument=TRUMPET)).notes
    row = INSTRUMENTS[TRUMPET]
    assert all(row.sounding_low_midi <= n.midi <= row.sounding_high_midi for n in notes)


@pytest.mark.parametrize("name", ["Flute", "Tuba", "Alto saxophone", "Violoncello", "Timpani"])
def test_warm_up_lines_can_be_typed_in_every_key(name):
    row = INSTRUMENTS.get(score.instrument_of(name))
    for fifths in range(-7, 8):
        read = read_passage(line_to_musicxml(warm_up_line(row, fifths, 96), instrument=row.name))
        pitches = [note.midi for note in read.notes]
        assert len(read.measures) == 8
        assert row.sounding_low_midi <= min(pitches) and max(pitches) <= row.sounding_high_midi


def test_one_place_is_seen_before_it_is_used(cast, check):
    found = place_page(check, check_page(cast.director, check), survey_of(check), (8, 11))
    assert [one.part_name for one in found.playing] == ["Flute", "Snare drum"]
    assert [(one.part_name, one.words) for one in found.resting] == [
        ("Clarinet in Bb", "rests"), ("Trumpet in Bb", "rests"),
    ]  # fmt: skip
    # Articulation is not asked of a drum.
    assert found.shown == (
        "Really shown: rhythm by 2 of 2, dynamics by 1 of 2, articulation by 1 of 1."
    )
    # In 1 to 8 two of four play all the time: of each one's three others, one sounds.
    assert [(place.printed, place.words) for place in found.exposed] == [
        ("1 to 8", "Flute and Clarinet in Bb: the others sound 33 % of the time."),
    ]  # fmt: skip
    assert CheckPassage.objects.filter(check_row=check, moved_by_hand=True).count() == 0


def test_changed_criteria_offer_to_find_again_or_to_keep(cast, check):
    assert not checks.change_check(cast.director, check, facts(title="x", criteria=CHOSEN,
                                                               tempo_qpm=96))
    assert checks.change_check(cast.director, check, facts(tempo_qpm=96))
    check = PlayingCheck.objects.get(pk=check.pk)
    assert passages_page(check, check_page(cast.director, check)).other_criteria
    where = row_of(check, "Flute").printed
    assert checks.say_again(cast.director, check) == 2
    flute = row_of(check, "Flute")
    assert (flute.printed, set(flute.shows)) == (where, {"tone", "rhythm", "notes"})
    assert flute.reason.startswith("Kept by you. ")
    assert not passages_page(check, check_page(cast.director, check)).other_criteria
    assert checks.change_check(cast.director, check, facts(tempo_qpm=80))  # tempo alone


@pytest.mark.django_db(transaction=True)
def test_no_score_is_read_and_nothing_is_found_inside_a_transaction(cast, monkeypatch):
    seen = []

    def watched(module, name):
        real = getattr(module, name)

        def call(*given, **more):
            seen.append(name)
            assert not connection.in_atomic_block, f"{name} runs inside a transaction"
            return real(*given, **more)

        monkeypatch.setattr(module, name, call)

    watched(passages, "find_passages")
    watched(passages, "survey_of")
    watched(score, "cut_passages")
    check = band_check(cast)
    checks.move_passage(cast.director, row_of(check, "Flute"), 0, 3)
    checks.same_place(cast.director, check, 4, 7)
    checks.give_nearest(cast.director, check)
    checks.propose_again(cast.director, check)
    assert seen.count("find_passages") == 2 and seen.count("cut_passages") == 5
    assert len(PARTS) == check.passages.count()


@pytest.mark.parametrize(
    "change",
    [
        lambda account, check: checks.move_passage(account, row_of(check, "Flute"), 0, 5),
        lambda account, check: checks.propose_again(account, check),
        lambda account, check: substitutes.play_typed_line(
            account, row_of(check, "Flute"), "C5 q D5 E5 F5 | G5 w"
        ),
    ],
)
def test_a_take_kept_but_not_sent_is_read_against_the_new_music(cast, check, change):
    """Its readings were of other measures."""
    take = heard_take(check, "Flute")
    change(cast.director, check)
    take.refresh_from_db()
    assert take.state == Take.WHOLE and not take.reports.exists()


def test_the_takes_of_parts_that_did_not_move_keep_their_readings(cast, check):
    take = heard_take(check, "Trumpet in Bb")
    checks.move_passage(cast.director, row_of(check, "Flute"), 0, 5)
    take.refresh_from_db()
    assert take.state == Take.HEARD and take.reports.count() == 1


def test_saying_again_what_a_passage_shows_reads_no_take_again(cast, check):
    take = heard_take(check, "Flute")
    checks.say_again(cast.director, check)
    take.refresh_from_db()
    assert take.state == Take.HEARD
