"""Lines of a divided part: given, kept when passages move, read against, said in words."""

from fractions import Fraction

import pytest
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.listening import listen
from standlight.programme import store
from standlight.programme.actions.shifting import (
    planned_lines,
    set_lines,
    set_own_version,
    set_part_version,
    versions_again,
    wishes_again,
    wishes_of,
)
from standlight.programme.models import OwnVersion, Report, Seat, Take, Turn
from standlight.programme.queries.desk import desk_page
from standlight.programme.queries.hearing import listening_task
from standlight.programme.queries.lines import lines_page, version_words
from standlight.programme.queries.my_check import check_page, notation_of
from standlight.programme.queries.shifting import ranges_page
from standlight.score import line_to_musicxml, read_passage
from standlight.score.lines import line_of
from tests.browser.conftest import as_wav
from tests.divisi_makers import two_voices
from tests.hearing_scene import RECORDING, TUNE, clarinet_check, more_clarinets
from tests.scores import suite
from tests.test_listening import ABOVE
from tests.web import scene

pytestmark = pytest.mark.django_db

UNDIVIDED = line_to_musicxml(TUNE, instrument="Clarinet in Bb")


def put(passage, notation):
    """Keep ``notation`` as what the passage asks of everyone."""
    passage.notation_digest = store.keep(notation)
    passage.save()
    return passage


@pytest.fixture
def passage(cast):
    """A clarinet passage in two voices; the recording plays the lower one."""
    check = clarinet_check(cast)
    return put(check.passages.get(), two_voices(ABOVE, TUNE, instrument="Clarinet in Bb"))


@pytest.fixture
def players(cast, passage):
    """The cast's clarinet and four more, in the order they were cast."""
    more = more_clarinets(cast, passage.check_row, 4)
    return [cast.musician, *more]


def sent(passage, musician):
    return Turn.objects.create(
        check_row=passage.check_row, musician=musician, sent_at=timezone.now()
    )


def lines_now():
    return {one.musician_id: (one.line, one.semitones) for one in OwnVersion.objects.all()}


def sounding(digest):
    return [note.midi for note in read_passage(store.fetch(digest)).notes]


def test_one_press_halves_the_part_in_the_order_of_casting(cast, passage, players):
    plan = planned_lines(passage, "halves")
    assert list(plan) == [one.pk for one in players]
    assert list(plan.values()) == ["upper", "upper", "upper", "lower", "lower"]
    assert set_lines(cast.director, passage, plan) == 2
    assert lines_now() == {one.pk: ("lower", 0) for one in players[3:]}
    assert set_lines(cast.director, passage, plan) == 0
    # The lower half is read against the tune, the upper against the passage itself.
    lower, upper = players[4].account, players[0].account
    tune = [note.midi for note in read_passage(UNDIVIDED).notes]
    assert sounding(notation_of(lower, passage.check_row)) == tune
    assert notation_of(upper, passage.check_row) == passage.notation_digest


@pytest.mark.parametrize("plan", ["upper", "lower", "all"])
def test_everyone_gets_the_same_by_one_press(cast, passage, players, plan):
    set_lines(cast.director, passage, planned_lines(passage, "halves"))
    set_lines(cast.director, passage, planned_lines(passage, plan))
    assert lines_now() == (
        {} if plan == "upper" else {one.pk: (plan, 0) for one in players}
    )


def test_one_musician_s_line_is_theirs_alone_and_upper_takes_it_back(cast, passage, players):
    assert set_lines(cast.director, passage, {players[1].pk: "lower"}) == 1
    version = OwnVersion.objects.get()
    assert (version.musician, version.asked_by) == (players[1], cast.director)
    assert line_of(store.fetch(version.notation_digest)) == "lower"
    assert set_lines(cast.director, passage, {players[1].pk: "upper"}) == 1
    assert not OwnVersion.objects.exists()


def test_who_has_sent_keeps_what_they_played_and_their_half_is_counted(cast, passage, players):
    sent(passage, players[0])
    sent(passage, players[4])
    assert set_lines(cast.director, passage, planned_lines(passage, "halves")) == 1
    assert lines_now() == {players[3].pk: ("lower", 0)}


def test_line_and_key_are_set_apart_and_stay_together(cast, passage, players):
    first = players[0]
    tune = [note.midi for note in read_passage(UNDIVIDED).notes]
    set_own_version(cast.director, passage, first, -12)
    set_lines(cast.director, passage, {first.pk: "lower"})
    assert sounding(OwnVersion.objects.get().notation_digest) == [midi - 12 for midi in tune]
    set_part_version(cast.director, passage, -2)
    assert lines_now()[first.pk] == ("lower", -2) and lines_now()[players[1].pk] == ("upper", -2)
    set_part_version(cast.director, passage, 0)
    assert lines_now() == {first.pk: ("lower", 0)}
    assert set_own_version(cast.director, passage, first, 0).line == "lower"


def test_only_the_group_s_director_and_only_those_on_the_part(cast, passage, players):
    for account in (cast.outsider_director, cast.musician.account):
        with pytest.raises(NotAllowed):
            set_lines(account, passage, {players[0].pk: "lower"})
    with pytest.raises(NotAllowed, match="does not have this part"):
        set_lines(cast.director, passage, {cast.singer.pk: "lower"})
    with pytest.raises(StandlightError, match="no line of a part"):
        set_lines(cast.director, passage, {players[0].pk: "second"})
    with pytest.raises(StandlightError, match="no line of a part"):
        planned_lines(passage, "thirds")
    assert not OwnVersion.objects.exists()


def test_a_passage_that_does_not_divide_has_no_lines_to_give(cast, passage, players):
    put(passage, UNDIVIDED)
    with pytest.raises(StandlightError, match="do not divide"):
        set_lines(cast.director, passage, {players[0].pk: "lower"})
    assert lines_page(passage.check_row).parts == ()
    assert ranges_page(passage.check_row).divided == ()


def test_strokes_in_two_voices_have_lines_but_nothing_to_move(cast):
    strokes = "time 4/4 tempo 96  x q x e x e x q x q"
    check = scene.publish(cast, musician=cast.second_musician, title="Drums")
    both = two_voices(strokes, "time 4/4 tempo 96  x h x q x e x e", instrument="Snare drum")
    passage = put(check.passages.get(), both)
    assert set_lines(cast.director, passage, {cast.second_musician.pk: "lower"}) == 1
    lower = read_passage(store.fetch(OwnVersion.objects.get().notation_digest)).notes
    assert [note.duration_quarters for note in lower] == [2, 1, Fraction(1, 2), Fraction(1, 2)]


def test_a_real_take_of_the_lower_line_is_read_and_all_notes_are_left_to_the_ear(
    cast, passage, tmp_path
):
    turn = Turn.objects.create(check_row=passage.check_row, musician=cast.musician)
    sound = as_wav(RECORDING, tmp_path / "take.wav").read_bytes()
    take = Take.objects.create(turn=turn, state=Take.HEARD, digest=store.keep(sound))
    Report.objects.create(take=take, method="m", body={})
    set_lines(cast.director, passage, {cast.musician.pk: "lower"})
    # What was kept but not sent is heard anew.
    take.refresh_from_db()
    assert take.state == Take.WHOLE and not take.reports.exists()
    heard = listen(listening_task(take.key))
    assert [note.outcome for note in heard.notes] == ["played"] * 15
    set_lines(cast.director, passage, {cast.musician.pk: "all"})
    silent = listen(listening_task(take.key))
    assert [verdict.code for verdict in silent.verdicts] == ["several_at_once"]


def test_when_the_passage_moves_the_line_stays_and_is_said_only_where_it_divides(
    cast, passage, players
):
    account = players[0].account
    set_lines(cast.director, passage, {players[0].pk: "lower"})
    assert check_page(account, passage.check_row).line == "the lower line"
    put(passage, UNDIVIDED)
    assert versions_again([passage]) == 1
    version = OwnVersion.objects.get()
    assert version.line == "lower" and version_words(version) == ""
    assert check_page(account, passage.check_row).line == ""
    put(passage, two_voices(ABOVE, TUNE, instrument="Clarinet in Bb"))
    versions_again([passage])
    version.refresh_from_db()
    assert version_words(version) == "lower line"
    tune = [note.midi for note in read_passage(UNDIVIDED).notes]
    assert sounding(version.notation_digest) == tune


def test_wishes_keep_the_line_while_passages_are_proposed_anew(cast, passage, players):
    set_lines(cast.director, passage, {players[2].pk: "all"})
    check, part, digest = passage.check_row, passage.part, passage.notation_digest
    wishes = wishes_of(check)
    passage.delete()
    check.passages.create(part=part, notation_digest=digest)
    assert wishes_again(check, wishes) == 1
    assert lines_now() == {players[2].pk: ("all", 0)}


def test_the_musician_reads_which_line_is_theirs(cast, passage, players):
    set_lines(cast.director, passage, {players[1].pk: "lower", players[2].pk: "all"})
    said = [check_page(one.account, passage.check_row) for one in players[:3]]
    assert [page.line for page in said] == ["the upper line", "the lower line", "all the notes"]
    # A line is no other key: nothing is "set" for them.
    assert [page.own_version for page in said] == ["", "", ""]


def test_nobody_on_two_staves_is_told_to_play_the_upper_alone(cast, passage):
    """The suite's 43a: "a simple piano staff"."""
    put(passage, suite("43a"))
    assert check_page(cast.musician.account, passage.check_row).line == ""
    set_lines(cast.director, passage, {cast.musician.pk: "lower"})
    assert check_page(cast.musician.account, passage.check_row).line == "the lower line"


def test_the_desk_says_the_line_and_draws_its_ids(cast, passage, players, monkeypatch):
    shown = []
    monkeypatch.setattr(
        "standlight.programme.queries.desk.svg_of",
        lambda digest, **more: shown.append(digest) or "<svg/>",
    )
    set_lines(cast.director, passage, {players[0].pk: "lower"})
    page = desk_page(cast.director, sent(passage, players[0]))
    assert set(shown) == {OwnVersion.objects.get().notation_digest}
    assert page.passage.endswith("lower line for this musician")
    assert desk_page(cast.director, sent(passage, players[1])).passage.endswith("Clarinet")


def test_a_singer_s_range_is_measured_on_the_line_they_sing(cast):
    check = scene.publish(cast, musician=cast.singer, group=cast.choir)
    both = two_voices("C5 q D5 E5 D5", "E4 q F4 G4 F4", instrument="Soprano")
    passage = put(check.passages.get(), both)
    # Comfortable from middle C to B4, MIDI 60 to 71: the upper line lies above, the lower inside.
    Seat.objects.filter(musician=cast.singer).update(comfort_low_midi=60, comfort_high_midi=71)
    (part,) = ranges_page(check).parts
    assert part.singers[0].flag.startswith("4 notes") and ranges_page(check).divided
    set_lines(cast.director, passage, {cast.singer.pk: "lower"})
    (part,) = ranges_page(check).parts
    assert part.singers[0].flag == "" and part.singers[0].semitones == 0


def test_the_page_takes_few_queries_and_survives_a_lost_file(
    cast, passage, players, django_assert_max_num_queries
):
    check = passage.check_row
    with django_assert_max_num_queries(4):
        (part,) = lines_page(check).parts
    assert [one.name for one in part.players] == [one.name for one in players]
    assert (part.n_first_half, part.n_second_half) == (3, 2)
    passage.notation_digest = "0" * 64
    passage.save()
    assert lines_page(check).parts == ()
