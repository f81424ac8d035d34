"""Kinds of a programme: editions that add up, what ships, who may change them."""

import copy

import pytest

from standlight.errors import NotAllowed, StandlightError
from standlight.kinds import KINDS, UnreadableKind, data_of
from standlight.programme.actions.kinds import bring_back, keep_kind, latest_edition, put_away
from standlight.programme.models import Account, KindEdition
from standlight.programme.queries.kinds import kind_in, latest_kinds, offered_kinds

pytestmark = pytest.mark.django_db


def finds(**changes):
    return {**copy.deepcopy(data_of(KINDS["finds"])), **changes}


def named(programme, key):
    return next(one for one in offered_kinds(programme) if one.key == key)


def test_every_shipped_kind_is_offered_before_any_row_exists(cast):
    offered = offered_kinds(cast.programme)
    assert {one.key for one in offered} == set(KINDS)
    assert not any(one.is_own or one.is_changed for one in offered)
    assert {one.edition for one in offered} == {1} and not KindEdition.objects.exists()


def test_the_row_of_a_shipped_kind_is_made_when_it_is_first_needed_and_once(cast):
    first = latest_edition(cast.programme, "finds")
    assert latest_edition(cast.programme, "finds") == first and first.made_by is None
    assert kind_in(first) == KINDS["finds"]
    with pytest.raises(StandlightError, match="there is no kind of work 'nothing'"):
        latest_edition(cast.programme, "nothing")


def test_a_change_adds_an_edition_and_the_old_one_still_reads_as_it_was(cast):
    before = latest_edition(cast.programme, "finds")
    after = keep_kind(cast.director, finds(name="Our finds"))
    assert (before.edition, after.edition, after.made_by) == (1, 2, cast.director)
    assert kind_in(before).name == "Finds" and kind_in(after).name == "Our finds"
    assert kind_in(after).edition == 2
    assert named(cast.programme, "finds").is_changed
    assert named(cast.programme, "finds").name == "Our finds"


def test_identical_data_make_no_edition_whatever_number_they_carry(cast):
    assert keep_kind(cast.director, finds()).edition == 1
    kept = keep_kind(cast.director, finds(aim="Another aim."))
    assert keep_kind(cast.second_director, finds(aim="Another aim.", edition=9)) == kept
    assert KindEdition.objects.count() == 2


def test_putting_back_what_ships_is_an_edition_too_and_counts_as_unchanged(cast):
    keep_kind(cast.director, finds(name="Our finds"))
    assert keep_kind(cast.director, finds()).edition == 3
    assert not named(cast.programme, "finds").is_changed


def test_a_kind_of_ones_own_is_offered_as_such(cast):
    keep_kind(cast.director, finds(key="sound_walk", name="Sound walk"))
    assert named(cast.programme, "sound_walk").is_own
    assert {one.key for one in offered_kinds(cast.outsider_director.programme)} == set(KINDS)


def test_a_broken_definition_gives_all_its_sentences_and_keeps_nothing(cast):
    broken = finds(aim="", process=["dance"])
    broken["steps"][0]["fields"][0]["type"] = "telepathy"
    with pytest.raises(UnreadableKind) as caught:
        keep_kind(cast.director, broken)
    said = " ".join(caught.value.problems)
    assert len(caught.value.problems) == 3
    assert "no aim" in said and "“dance”" in said and "“telepathy”" in said
    assert not KindEdition.objects.exists()


def test_what_is_put_away_is_not_offered_until_it_comes_back_and_a_change_leaves_it_there(cast):
    put_away(cast.director, "finds")
    put_away(cast.director, "finds")
    assert "finds" not in {one.key for one in offered_kinds(cast.programme)}
    keep_kind(cast.director, finds(name="Our finds"))
    assert "finds" not in {one.key for one in offered_kinds(cast.programme)}
    bring_back(cast.director, "finds")
    assert named(cast.programme, "finds").name == "Our finds"


def test_a_newer_shipped_definition_reaches_a_programme_that_has_not_changed_it(cast):
    row = latest_edition(cast.programme, "finds")
    KindEdition.objects.filter(pk=row.pk).update(body={**row.body, "aim": "An aim of last year."})
    newer = latest_edition(cast.programme, "finds")
    assert newer.edition == 2 and kind_in(newer).aim == KINDS["finds"].aim
    found = next(one for one in latest_kinds(cast.programme) if one.kind.key == "finds")
    assert found.edition == 2 and not found.is_changed
    changed = keep_kind(cast.director, finds(aim="Mine."))
    assert latest_edition(cast.programme, "finds") == changed


def test_every_director_of_the_programme_changes_kinds_and_nobody_else(cast):
    assert keep_kind(cast.second_director, finds(name="Two")).made_by == cast.second_director
    idle = Account.objects.make(
        programme=cast.programme, sign_in="idle", role=Account.DIRECTOR, secret=None,
        shown_name="Without a group",
    )  # fmt: skip
    for account in (cast.musician.account, cast.outsider_musician.account, idle):
        for act in (
            lambda who: keep_kind(who, finds(name="Three")),
            lambda who: put_away(who, "finds"),
            lambda who: bring_back(who, "finds"),
        ):
            with pytest.raises(NotAllowed):
                act(account)
    keep_kind(cast.outsider_director, finds(name="Theirs"))
    assert named(cast.programme, "finds").name == "Two"
    assert {row.programme for row in KindEdition.objects.visible_to(cast.director)} == {
        cast.programme
    }
    assert not KindEdition.objects.visible_to(cast.musician.account).exists()


def test_an_edition_is_read_anew_when_its_number_holds_something_else(cast):
    row = latest_edition(cast.programme, "finds")
    assert kind_in(row).name == "Finds"
    row.body = {**row.body, "name": "After a restored backup"}
    assert kind_in(row).name == "After a restored backup"
