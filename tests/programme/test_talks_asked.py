"""Asking for a talk: no word is lost, none is closed unread, and who left is not forgotten."""

import datetime

import pytest
from django.utils import timezone

from standlight.errors import StandlightError
from standlight.programme.actions import talks as acts
from standlight.programme.models import Seat, Talk, TalkAsked
from standlight.programme.queries.talks import my_talks, talk_page, talks_page
from standlight.programme.queries.talks_rules import reasons_in, room_of
from standlight.programme.queries.today_beside import talks_waiting
from tests.programme.talk_scene import ago, project

pytestmark = pytest.mark.django_db


def ask(cast, words=""):
    return acts.ask(cast.musician, cast.band, words)


def read(cast):
    acts.read_asked(cast.band, cast.musician)


def shown(cast):
    """The stamp of the words on the director's page, as a form would send it."""
    return talk_page(cast.director, cast.band, cast.musician).asked.stamp


def noted(cast, words="We talked.", *, day=None, seen="", steps=(), account=None):
    day = day or timezone.localdate()
    return acts.note(
        account or cast.director, cast.band, cast.musician, day, words, steps, seen=seen
    )


def test_later_words_stand_under_earlier_ones_whether_those_were_read_or_not(cast):
    ask(cast, "somebody takes my reed")
    ask(cast, "and the strap")
    assert TalkAsked.objects.get().words == "somebody takes my reed\nand the strap"
    read(cast)
    ask(cast, "also today")
    row = TalkAsked.objects.get()
    assert row.words == "somebody takes my reed\nand the strap\nalso today"
    assert row.read_at is None, "the new words are unread"


def test_the_same_words_twice_in_a_row_stand_there_once(cast):
    for words in ("two lines\nof it", "two lines\nof it", "of it", "it", "it"):
        ask(cast, words)
    assert TalkAsked.objects.get().words == "two lines\nof it\nit"


def test_asking_again_without_words_leaves_what_was_read_as_read(cast):
    for words in ("", "about the solo"):
        ask(cast, words)
        read(cast)
        ask(cast, "")
        row = TalkAsked.objects.get()
        assert (row.words, row.read_at is None) == (words, False)


def test_the_limit_holds_for_the_new_words_and_the_row_holds_the_sum(cast):
    longest = TalkAsked.LONGEST
    for letter in "abc":
        ask(cast, letter * longest)
    row = TalkAsked.objects.get()
    row.full_clean()
    assert len(row.words) == 3 * longest + 2
    with pytest.raises(StandlightError, match="longer than 600"):
        ask(cast, "d" * (longest + 1))
    assert TalkAsked.objects.get().words == row.words


def test_words_that_came_after_the_page_was_opened_are_not_closed_with_it(cast):
    ask(cast, "hello")
    read(cast)
    seen = shown(cast)
    ask(cast, "I am not safe at home")
    with pytest.raises(StandlightError, match="They wrote something since"):
        acts.close_asked(cast.band, cast.musician, seen)
    assert TalkAsked.objects.get().talked_at is None
    acts.close_asked(cast.band, cast.musician, shown(cast))
    assert TalkAsked.objects.get().talked_at is not None


@pytest.mark.parametrize("words", ["", "hello"])
def test_a_request_that_the_page_did_not_show_is_not_closed(cast, words):
    ask(cast, words)
    with pytest.raises(StandlightError, match="They wrote something since"):
        acts.close_asked(cast.band, cast.musician, "")
    seen = shown(cast)
    acts.close_asked(cast.band, cast.musician, seen)
    acts.close_asked(cast.band, cast.musician, seen)
    ask(cast, words)
    with pytest.raises(StandlightError, match="They wrote something since"):
        acts.close_asked(cast.band, cast.musician, seen)
    assert TalkAsked.objects.filter(talked_at=None).count() == 1, "a later request is another one"


def test_a_note_is_kept_and_leaves_open_what_was_written_since(cast):
    ask(cast, "hello")
    seen = shown(cast)
    ask(cast, "one more thing")
    noted(cast, seen=seen)
    assert Talk.objects.get().words == "We talked."
    assert TalkAsked.objects.get().talked_at is None
    noted(cast, "And the other thing.", seen=shown(cast))
    assert TalkAsked.objects.get().talked_at is not None


def test_the_same_note_again_within_minutes_is_the_note_that_is_there(cast):
    day = timezone.localdate()
    steps = [("Play it slowly", day), ("Tell me", day)]
    first = noted(cast, steps=steps)
    assert noted(cast, steps=steps) == first
    spaced = [("Play  it slowly ", day), ("Tell me", day)]
    assert noted(cast, " We talked.\n", steps=spaced) == first
    others = [
        noted(cast, steps=steps[:1]),
        noted(cast, "Of something else.", steps=steps),
        noted(cast, steps=steps, day=day - datetime.timedelta(1)),
        noted(cast, steps=steps, account=cast.second_director),
    ]
    assert len({one.pk for one in (first, *others)}) == 5 == Talk.objects.count()
    Talk.objects.update(noted_at=ago(1))
    assert noted(cast, steps=steps) != first, "a day later it is another talk"


def test_a_talk_is_noted_within_a_year_and_a_slip_in_the_year_is_refused(cast):
    today = timezone.localdate()
    for day in (datetime.date(26, 11, 25), today - datetime.timedelta(367)):
        with pytest.raises(StandlightError, match="more than a year ago"):
            noted(cast, day=day)
    with pytest.raises(StandlightError, match="a day to come"):
        noted(cast, day=today + datetime.timedelta(1))
    with pytest.raises(StandlightError, match="more than a year away"):
        noted(cast, steps=[("Play it", today + datetime.timedelta(367))])
    assert not Talk.objects.exists()
    noted(cast, day=today - datetime.timedelta(366))


def test_a_note_goes_by_the_day_on_which_it_was_written(cast, settings):
    settings.STANDLIGHT_KEEP_TAKES_DAYS = 100
    noted(cast, day=timezone.localdate() - datetime.timedelta(200))
    now = timezone.now()
    acts.remove_old_talks(now + datetime.timedelta(1))
    acts.remove_old_talks(now + datetime.timedelta(99))
    assert Talk.objects.count() == 1
    acts.remove_old_talks(now + datetime.timedelta(101))
    assert not Talk.objects.exists()


def test_who_asked_and_left_is_named_apart_until_somebody_answers(cast):
    ask(cast, "please")
    project(cast, (2, 2))
    yesterday = timezone.localdate() - datetime.timedelta(1)
    Seat.objects.filter(musician=cast.musician).update(left_on=yesterday)
    page = talks_page(cast.second_director)
    assert [(name, [row.name for row in rows]) for name, rows in page.groups[0].sections] == [
        ("Not in the group any more", ["Mina Okafor"])
    ]
    found = reasons_in(room_of(cast.director, cast.band))[cast.musician.pk]
    assert [one.code for one in found] == ["asked"], "no other rule speaks of who left"
    assert [(rule.name, rule.n) for rule in page.rules] == [
        ("All reasons", 1), ("Asked for a talk", 1),
    ]  # fmt: skip
    acts.close_asked(cast.band, cast.musician, shown(cast))
    assert talks_page(cast.second_director).groups[0].sections == ()
    assert talks_waiting(cast.director, cast.band, timezone.localdate()).asked == 0


def test_what_a_director_read_meanwhile_is_not_taken_back_by_an_older_page(cast):
    older = ask(cast, "about the solo")
    read(cast)
    with pytest.raises(StandlightError, match="has read it already"):
        acts.take_back(older)
    assert TalkAsked.objects.get() == older


def test_words_that_were_read_stay_when_words_come_after_them(cast):
    ask(cast, "somebody takes my reed")
    read(cast)
    later = ask(cast, "never mind")
    with pytest.raises(StandlightError, match="has read it already"):
        acts.take_back(later)
    mine = my_talks(cast.musician.account).groups[0].asked
    assert (mine.read, mine.may_take_back) == (False, False)
    assert TalkAsked.objects.get().words == "somebody takes my reed\nnever mind"


def test_taking_back_twice_is_harmless(cast):
    asked = ask(cast)
    assert my_talks(cast.musician.account).groups[0].asked.may_take_back
    acts.take_back(asked)
    acts.take_back(TalkAsked(pk=asked.pk or 0))
    assert not TalkAsked.objects.exists()
