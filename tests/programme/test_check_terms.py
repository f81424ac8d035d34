"""Terms of a check's recording: one take, a place, a window, own starts; and what is never lost."""

import datetime
from collections import Counter
from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone
from scipy.stats import chisquare

from standlight.errors import NotAllowed, StandlightError
from standlight.kinds import reading_grade
from standlight.programme import store
from standlight.programme.actions.checks import propose_again
from standlight.programme.actions.checks_again import ask_again
from standlight.programme.actions.takes import (
    Begun,
    keep_file,
    keep_piece,
    let_go,
    make_whole,
    send_turn,
)
from standlight.programme.actions.terms import TermsFacts, begin_here, keep_terms
from standlight.programme.dates import date_words
from standlight.programme.models import (
    CheckPassage,
    CheckTerms,
    OwnVersion,
    Take,
    Turn,
)
from standlight.programme.queries.hearing import listening_task
from standlight.programme.queries.live import live_page
from standlight.programme.queries.terms import GRACE, terms_of, terms_sentences
from standlight.programme.queries.today import today_page
from standlight.programme.starts import drawn_start
from standlight.score import read_passage
from standlight.web.musician.permits import Permit, read_permit
from tests.hearing_scene import RECORDING, clarinet_check
from tests.programme.desk_scene import make_scene, more_clarinets, read, send
from tests.web.scene import sign_in

pytestmark = pytest.mark.django_db

HOUR = datetime.timedelta(hours=1)
SOUND = RECORDING.read_bytes()


@pytest.fixture
def check(cast):
    return clarinet_check(cast)


def key_of(cast, check, attempt=1):
    return cast.musician.pk, check.pk, attempt


def terms(cast, check, **facts):
    return keep_terms(cast.director, check, TermsFacts(**facts))


def bring(cast, check, begun=None, data=SOUND):
    return keep_file(cast.musician, check, data, media_type="audio/flac", begun=begun or Begun())


def start_at(cast, check, skipped):
    """Own starts with a seed that lets the musician leave out so many of the four measures."""
    seeds = range(1, 500)
    seed = next(one for one in seeds if drawn_start(one, cast.musician.pk, 4) == skipped)
    CheckTerms.objects.create(check_row=check, seed=seed)
    terms(cast, check, own_start=True)


# --- own starts ------------------------------------------------------------


def test_every_start_that_leaves_half_of_the_passage_is_drawn_about_equally_often():
    drawn = Counter(drawn_start(11, musician, 9) for musician in range(3000))
    assert sorted(drawn) == [0, 1, 2, 3, 4]
    assert chisquare(list(drawn.values())).pvalue > 0.001
    other = [drawn_start(12, musician, 9) for musician in range(50)]
    assert other != [drawn_start(11, musician, 9) for musician in range(50)]


def test_a_musician_starts_at_the_same_measure_always_and_is_read_from_there(cast, check):
    start_at(cast, check, 2)
    begin_here(cast.musician, check)
    begin_here(cast.musician, check)
    own = OwnVersion.objects.get(musician=cast.musician)
    assert own.skipped == 2
    music = read_passage(store.fetch(own.notation_digest))
    whole = read_passage(store.fetch(CheckPassage.objects.get().notation_digest))
    assert [m.printed for m in music.measures] == [m.printed for m in whole.measures[2:]]
    assert [n.midi for n in music.notes] == [n.midi for n in whole.notes if n.measure >= 2]
    take = bring(cast, check)
    asked = read_passage(listening_task(take.key).notation)
    assert len(asked.notes) == len(music.notes) < len(whole.notes)


def test_the_page_says_where_to_start_and_everyone_is_told_that_starts_differ(
    client, cast, check
):
    start_at(cast, check, 2)
    sign_in(client, cast.musician.account)
    page = client.get(reverse("my-check", args=[check.pk])).content.decode()
    assert "Start at measure 3." in page and "measure of your own" not in page
    sign_in(client, cast.director)
    wall = client.get(reverse("check-launch", args=[check.pk])).content.decode()
    assert "Each of you starts at a measure of your own" in wall


def test_the_form_at_the_stand_tells_the_director_where_each_one_starts(client, cast, check):
    start_at(cast, check, 2)
    begin_here(cast.musician, check)
    (row,) = live_page(cast.director, check, [cast.musician.pk]).rows
    assert row.start_at == "3"
    sign_in(client, cast.director)
    stand = client.get(reverse("live-check", args=[check.pk]), {"size": 8}).content.decode()
    assert "starts at measure 3" in stand
    terms(cast, check)
    (row,) = live_page(cast.director, check, [cast.musician.pk]).rows
    assert row.start_at == ""


def test_starts_taken_back_give_everyone_the_whole_passage_again(cast, check):
    start_at(cast, check, 1)
    begin_here(cast.musician, check)
    assert OwnVersion.objects.filter(skipped=1).exists()
    terms(cast, check)
    assert not OwnVersion.objects.exists()


def test_starts_stay_once_something_is_sent_and_a_seed_is_drawn_once(cast, check):
    seed = terms(cast, check, own_start=True).seed
    assert seed > 0
    take = bring(cast, check)
    send_turn(key_of(cast, check), take.key)
    assert terms(cast, check, own_start=True, one_take=True).seed == seed
    with pytest.raises(NotAllowed, match="where they start stays"):
        terms(cast, check)


def test_who_records_together_starts_together_and_paper_has_no_starts(cast, check):
    check.together = True
    with pytest.raises(StandlightError, match="starts together"):
        terms(cast, check, own_start=True)
    paper = make_scene(cast).check
    with pytest.raises(StandlightError, match="on paper only"):
        terms(cast, paper, own_start=True)


def test_an_agreed_shorter_passage_begins_at_its_beginning(cast, check):
    cast.musician.accommodations = ["shorter"]
    cast.musician.save()
    start_at(cast, check, 2)
    begin_here(cast.musician, check)
    assert not OwnVersion.objects.filter(skipped__gt=0).exists()


def test_the_same_asked_again_keeps_its_starts_and_not_its_window(cast, check):
    opens = timezone.now() - HOUR
    first = terms(cast, check, own_start=True, one_take=True, opens_at=opens)
    made = ask_again(cast.director, check, timezone.localdate() + datetime.timedelta(days=9))
    again = terms_of(made)
    assert (again.seed, again.one_take, again.opens_at) == (first.seed, True, None)


def test_passages_found_anew_draw_their_starts_anew(cast, check):
    start_at(cast, check, 2)
    begin_here(cast.musician, check)
    row = CheckPassage.objects.get()
    assert row.own_versions.get().skipped == 2
    # The piece of this scene has no score to find in: what is found is nothing, and no start stays.
    with pytest.raises(StandlightError):
        propose_again(cast.director, check)
    assert row.own_versions.get().skipped == 2


def test_trouble_of_one_who_started_later_is_told_in_its_own_measure(cast):
    scene = make_scene(cast, notation=True)
    people = [cast.musician, *more_clarinets(scene, 2)]
    passage = CheckPassage.objects.get(part=scene.clarinet)
    for person in people:
        OwnVersion.objects.create(
            passage=passage, musician=person, semitones=0, skipped=2, asked_by=cast.director,
            notation_digest=passage.notation_digest,
        )
        turn = send(scene, person)
        read(turn, spots=[("rhythm", 0, 0, "Measure 35: one entry late.")])
    trouble = str(today_page(cast.director))
    assert "measure 35" in trouble.lower()
    assert "measure 33" not in trouble.lower()


# --- one take --------------------------------------------------------------


def test_one_take_is_one_take_and_stays(cast, check):
    terms(cast, check, one_take=True)
    take = bring(cast, check)
    with pytest.raises(NotAllowed, match="asks for one take, and yours is here"):
        bring(cast, check, data=SOUND + b"\0")
    with pytest.raises(NotAllowed, match="this is it"):
        let_go(key_of(cast, check), take.key)
    assert bring(cast, check).key == take.key  # the same file again is the same take
    assert send_turn(key_of(cast, check), take.key).sent_at


def test_a_take_that_cannot_be_decoded_takes_nobodys_chance_away(cast, check):
    terms(cast, check, one_take=True)
    first = bring(cast, check)
    Take.objects.filter(key=first.key).update(state=Take.REFUSED)
    second = bring(cast, check, data=SOUND + b"\0")
    let_go(key_of(cast, check), first.key)
    assert [take.key for take in Take.objects.all()] == [second.key]


def test_a_take_half_on_its_way_is_finished_after_one_take_was_asked_for(cast, check):
    first = uuid4()
    keep_piece(key_of(cast, check), first, 0, SOUND[:1000], Begun())
    bring(cast, check)
    terms(cast, check, one_take=True)
    keep_piece(key_of(cast, check), first, 1, SOUND[1000:], Begun())
    facts = {"n_pieces": 2, "media_type": "audio/flac", "settings": {}}
    assert make_whole(key_of(cast, check), first, begun=Begun(), **facts) == ()


# --- the station -----------------------------------------------------------


def test_at_a_station_only_a_take_from_elsewhere_is_refused_with_where_to_go(cast, check):
    terms(cast, check, at_station=True)
    with pytest.raises(NotAllowed, match="recorded at the station at school, or heard live"):
        bring(cast, check)
    with pytest.raises(NotAllowed, match="recorded at the station"):
        keep_piece(key_of(cast, check), uuid4(), 0, b"sound", Begun())
    assert not Take.objects.exists()
    assert bring(cast, check, Begun(at_station=True)).turn.musician == cast.musician


def test_a_director_who_brings_a_take_in_is_not_asked_for_the_terms(cast, check):
    terms(cast, check, at_station=True, closes_at=timezone.now() - HOUR)
    assert keep_file(cast.musician, check, SOUND).state == Take.WHOLE


def test_at_home_the_page_has_no_recorder_to_press_and_says_where_to_record(client, cast, check):
    terms(cast, check, at_station=True)
    sign_in(client, cast.musician.account)
    page = client.get(reverse("my-check", args=[check.pk])).content.decode()
    assert "This check is recorded at the station at school, or heard live." in page
    assert "data-record disabled" in page


# --- the window ------------------------------------------------------------


def test_before_and_after_the_window_no_take_begins(cast, check):
    now = timezone.now()
    terms(cast, check, opens_at=now + HOUR)
    with pytest.raises(NotAllowed, match="can be recorded from"):
        bring(cast, check)
    terms(cast, check, opens_at=now - 3 * HOUR, closes_at=now - HOUR)
    with pytest.raises(NotAllowed, match="could be recorded until"):
        bring(cast, check)
    terms(cast, check, closes_at=now - GRACE / 2)
    assert bring(cast, check)


def test_a_take_begun_in_time_on_a_page_opened_in_time_comes_in_days_later(cast, check):
    now = timezone.now()
    terms(cast, check, closes_at=now - 24 * HOUR)
    in_time = Begun(opened_at=now - 25 * HOUR)
    key = uuid4()
    keep_piece(key_of(cast, check), key, 0, SOUND, in_time)
    facts = {"n_pieces": 1, "media_type": "audio/flac", "settings": {}}
    assert make_whole(key_of(cast, check), key, begun=in_time, **facts) == ()
    assert send_turn(key_of(cast, check), key).sent_at
    with pytest.raises(NotAllowed):
        keep_piece(key_of(cast, check), uuid4(), 0, SOUND, Begun(opened_at=now))


def test_what_was_kept_in_time_can_be_sent_after_the_window(client, cast, check):
    take = bring(cast, check)
    terms(cast, check, closes_at=timezone.now() - HOUR)
    sign_in(client, cast.musician.account)
    page = client.get(reverse("my-check", args=[check.pk])).content.decode()
    assert "What you have kept below you can still send." in page
    client.post(reverse("my-send", args=[check.pk]), {"take": str(take.key)})
    assert Turn.objects.get().sent_at is not None


def test_a_window_that_closes_before_it_opens_is_refused(cast, check):
    now = timezone.now()
    with pytest.raises(StandlightError, match="close before it opens"):
        terms(cast, check, opens_at=now, closes_at=now - HOUR)


def test_a_permit_tells_when_its_page_was_opened_and_an_old_one_does_not():
    before = timezone.now().replace(microsecond=0)
    permit = read_permit(Permit(1, 2, 3, at_station=True).signed())
    assert permit.begun.at_station and permit.begun.opened_at >= before
    assert permit.turn_key == (1, 2, 3)


# --- the forms -------------------------------------------------------------


def form(check, **more):
    return {
        "title": check.title, "criteria": check.criteria, "tempo": "84",
        "due_on": check.due_on.isoformat(), "pitch_target": "equal", **more,
    }  # fmt: skip


def test_terms_are_set_on_the_checks_page_and_told_there_and_on_the_wall(client, cast, check):
    sign_in(client, cast.director)
    page = reverse("check", args=[check.pk])
    client.post(page, form(check, one_take="yes", closes_at="2026-12-01T15:30"))
    kept = CheckTerms.objects.get()
    assert kept.one_take and not kept.at_station
    assert f"{timezone.localtime(kept.closes_at):%Y-%m-%d %H:%M}" == "2026-12-01 15:30"
    for name in ("check", "check-launch"):
        text = client.get(reverse(name, args=[check.pk])).content.decode()
        assert "You make one take." in text
        assert f"You can record until {date_words(kept.closes_at, 'clock')}." in text
    assert 'value="2026-12-01T15:30"' in client.get(page).content.decode()


def test_what_is_no_time_is_told_and_nothing_changes(client, cast, check):
    sign_in(client, cast.director)
    page = reverse("check", args=[check.pk])
    answer = client.post(page, form(check, title="New", closes_at="soon"), follow=True)
    assert "is no day and time" in answer.content.decode().replace("&#x27;", "'")
    check.refresh_from_db()
    assert check.title == "Check"
    assert not CheckTerms.objects.exists()


def test_another_schools_director_sets_no_terms(cast, check):
    with pytest.raises(NotAllowed):
        keep_terms(cast.outsider_director, check, TermsFacts(one_take=True))
    assert not CheckTerms.objects.visible_to(cast.outsider_director).exists()


def test_all_terms_read_at_grade_6():
    every = CheckTerms(one_take=True, at_station=True, own_start=True, closes_at=timezone.now())
    sentences = terms_sentences(every)
    assert len(sentences) == 4
    # Names of days and months are long words that nobody reads by syllables.
    assert all(reading_grade(sentence).grade <= 6.0 for sentence in sentences[:3])
    assert reading_grade(" ".join(sentences)).grade <= 6.0
    assert terms_sentences(CheckTerms()) == ()
