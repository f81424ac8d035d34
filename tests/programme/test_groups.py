"""Groups of an ensemble: wishes hold, answers stay unseen, musicians see names when shared."""

import datetime
from itertools import combinations

import pytest
from django.utils import timezone

from standlight.errors import StandlightError
from standlight.planning import CANNOT_HOLD, PARTS, REASONS, ROLES
from standlight.programme.actions import groups as acts
from standlight.programme.actions import sheets
from standlight.programme.actions.desk import rate
from standlight.programme.actions.leaving import forget_musician
from standlight.programme.actions.retention import remove_expired_sound
from standlight.programme.models import Grouping, GroupSeat, GroupWish
from standlight.programme.queries import groups as pages
from standlight.programme.queries.groups_mine import my_groups
from standlight.programme.queries.groups_request import key_of, questions_of, request_of
from standlight.programme.queries.groups_words import (
    CANNOT_SENTENCES,
    PARTS_CHOICES,
    REASON_SENTENCES,
    ROLE_WORDS,
)
from standlight.programme.queries.musician_record import musician_record
from tests.programme.desk_scene import make_scene, send
from tests.programme.group_scene import made, making, numbers, twelve
from tests.programme.sheet_scene import EVERYTHING, WHOLE, give, write

pytestmark = pytest.mark.django_db


@pytest.fixture
def people(cast):
    return twelve(cast)


def sits(grouping, musician):
    """A musician and their group as the page shows them now."""
    return acts.Sits(musician.pk, grouping.seats.get(musician=musician).number)


def wish(cast, one, other, apart=True):
    acts.add_wish(cast.director, cast.band, one.pk, other.pk, apart)


def test_every_code_of_the_pure_room_has_words_here():
    assert set(REASON_SENTENCES) == set(REASONS)
    assert set(CANNOT_SENTENCES) == set(CANNOT_HOLD)
    assert set(ROLE_WORDS) == set(ROLES)
    assert set(PARTS_CHOICES) == set(PARTS)


def test_groups_are_at_most_so_large_mixed_and_everybody_sits_once(cast, people):
    grouping = made(cast, people.values())
    seats = list(GroupSeat.objects.filter(grouping=grouping))
    assert sorted(seat.musician_id for seat in seats) == sorted(one.pk for one in people.values())
    page = pages.grouping_page(grouping)
    assert [len(group.members) for group in page.groups] == [4, 4, 4]
    assert all(len({one.part for one in group.members}) == 2 for group in page.groups)
    assert all("2 different parts." in group.reasons for group in page.groups)
    assert all(sum(bool(one.role) for one in group.members) == 4 for group in page.groups)


def test_sectionals_hold_one_part_and_a_helper(cast, people):
    page = pages.grouping_page(made(cast, people.values(), parts="same", size=3))
    assert all(len({one.part for one in group.members}) == 1 for group in page.groups)
    assert all("All on the same part." in group.reasons for group in page.groups)
    roles = [sorted(one.role for one in group.members if one.role) for group in page.groups]
    assert roles == [["helper", "timekeeper"]] * 4


def test_wishes_hold_for_every_draw_and_are_told_on_no_group(cast, people):
    wish(cast, people["Abel"], people["Cleo"])
    wish(cast, people["Bibi"], people["Duri"], apart=False)
    wish(cast, people["Duri"], people["Esme"], apart=False)
    grouping = made(cast, people.values())
    for _ in range(5):
        of = numbers(grouping)
        assert of["Abel"] != of["Cleo"]
        assert of["Bibi"] == of["Duri"] == of["Esme"]
        page = pages.grouping_page(grouping)
        assert (page.broken, page.cannot, page.fixes) == ((), (), ())
        said = " ".join(words for group in page.groups for words in group.reasons)
        assert not any(word in said for word in ("apart", "kept", "wish"))
        acts.draw_again(grouping)


def test_a_second_wish_about_a_pair_replaces_the_first_whichever_is_named_first(cast, people):
    wish(cast, people["Cleo"], people["Abel"])
    wish(cast, people["Abel"], people["Cleo"], apart=False)
    row = GroupWish.objects.get()
    assert (row.first, row.second, row.apart) == (people["Abel"], people["Cleo"], False)
    assert not any(
        field.name in ("reason", "words", "why") for field in GroupWish._meta.get_fields()
    )


def test_a_wish_needs_two_of_the_ensemble(cast, people):
    for other in (people["Abel"], cast.singer, cast.outsider_musician):
        with pytest.raises(StandlightError, match="two musicians of this ensemble"):
            wish(cast, people["Abel"], other)
    assert not GroupWish.objects.exists()


def test_wishes_that_cannot_hold_are_told_with_what_would_let_them(cast, people):
    four = [people[name] for name in ("Abel", "Bibi", "Cleo", "Duri")]
    for one, other in combinations(four, 2):
        wish(cast, one, other)
    page = pages.grouping_page(made(cast, people.values()))
    assert len(page.broken) == 1, "one broken wish is the least for four in three groups"
    assert page.cannot == (
        "Abel Quist, Bibi Quist, Cleo Quist and Duri Quist are all to be kept apart from each "
        "other. That is 4, more than there are groups.",
    )
    assert page.fixes[0] == "In groups of 3 all your wishes hold."
    assert page.fixes[1].count("; or") == 5
    better = pages.grouping_page(made(cast, people.values(), size=3))
    assert (better.broken, better.cannot) == ((), ())


def test_wishes_about_who_is_absent_are_left_aside(cast, people):
    wish(cast, people["Abel"], people["Bibi"])
    here = [one for name, one in people.items() if name != "Abel"]
    assert request_of(making(cast), [one.pk for one in here]).keep_apart == ()
    assert made(cast, here).seats.count() == 11


def sent_answers(cast, people):
    """Half of them chose “Slowly”, the others “Five times”; one has not sent."""
    work = give(cast, EVERYTHING)
    names = list(people)
    for n, name in enumerate(names):
        answers = {**WHOLE, "choice": ("slow", "loop")[n < 6]}
        sheet = write(cast, work, answers, musician=people[name])
        if name != names[-1]:
            sheets.send(sheet)
    return work


def test_answers_differ_and_what_they_say_stands_nowhere(cast, people):
    work = sent_answers(cast, people)
    found = {one.value: one for one in questions_of(cast.band)}
    assert set(found) == {
        f"{work.pk}:all:{key}" for key in ("choice", "several", "levels", "scale", "clock")
    }
    asked = {"assignment": work, "step": "all", "question": "choice"}
    request = request_of(making(cast, **asked), [one.pk for one in people.values()])
    assert [one.answer for one in request.members].count("") == 1, "not sent is not read"
    page = pages.grouping_page(made(cast, people.values(), size=2, parts="any", **asked))
    assert all("Slowly" not in words and "Five" not in words and "slow" not in words
               for group in page.groups for words in group.reasons)  # fmt: skip
    of = {member.key: member.answer for member in request.members}
    alike = [
        group for group in page.groups
        if len({of[key_of(one.pk)] for one in group.members} - {""}) == 1
        and all(of[key_of(one.pk)] for one in group.members)
    ]  # fmt: skip
    assert alike == [], "six and five: every pair can differ"


def test_pins_of_a_listening_map_lie_apart_by_what_was_pinned(cast, people):
    work = give(cast, "listening_map", sound_name="Heard live")
    rows = [
        [{"at": {"at_s": 12.0, "words": ""}, "what": "softer"},
         {"at": {"at_s": 4.0, "words": ""}, "what": "louder"},
         {"at": {"at_s": 9.0, "words": ""}, "what": "louder"}],
        [{"at": {"at_s": 30.0, "words": ""}, "what": "louder"}],
    ]  # fmt: skip
    for musician, answer in zip(("Abel", "Bibi"), rows, strict=True):
        sheet = write(cast, work, {"changes": answer}, step="first", musician=people[musician])
        type(sheet).objects.filter(pk=sheet.pk).update(sent_at=timezone.now())
    asked = {"assignment": work, "step": "first", "question": "changes"}
    request = request_of(making(cast, **asked), [people["Abel"].pk, people["Bibi"].pk])
    assert [one.listening[:2] for one in request.members] == [(4.0, 12.0), (30.0, None)]
    page = pages.grouping_page(made(cast, [people["Abel"], people["Bibi"]], **asked))
    assert "Their pins lie 26 seconds apart on average." in page.groups[0].reasons


def test_levels_are_balanced_and_no_level_of_a_musician_stands_on_any_page(cast, people):
    scene = make_scene(cast)
    for n, one in enumerate(people.values()):
        rate(cast.director, send(scene, one), dict.fromkeys(scene.check.criteria, "41"[n < 6]))
    grouping = made(cast, people.values(), parts="any")
    request = request_of(grouping, [one.pk for one in people.values()])
    assert sorted(one.level for one in request.members) == [1.0] * 6 + [4.0] * 6
    page = pages.grouping_page(grouping)
    assert all("Levels as in the whole ensemble." in group.reasons for group in page.groups)
    assert request_of(
        making(cast, by_levels=False), [one.pk for one in people.values()]
    ).members[0].level is None


def test_kept_groups_are_not_repeated_and_drafts_do_not_count(cast, people):
    first = made(cast, people.values(), size=3)
    acts.keep(first, "First")
    before = {pair for pair in combinations(numbers(first), 2)
              if numbers(first)[pair[0]] == numbers(first)[pair[1]]}  # fmt: skip
    second = made(cast, people.values(), size=3)
    of = numbers(second)
    assert [pair for pair in before if of[pair[0]] == of[pair[1]]] == []
    page = pages.grouping_page(second)
    assert all("Nobody here was together in the groups before." in group.reasons
               for group in page.groups)  # fmt: skip
    third = made(cast, people.values(), size=3)
    assert not Grouping.objects.filter(pk=second.pk).exists(), "a draft gives way to the next"
    assert len(request_of(third, [one.pk for one in people.values()]).earlier) == 1


def test_two_change_places_and_roles_stay_with_the_place(cast, people):
    grouping = made(cast, people.values())
    seats = {seat.musician.given_name: (seat.number, seat.role) for seat in
             grouping.seats.select_related("musician")}  # fmt: skip
    one = "Abel"
    other = next(name for name in seats if seats[name][0] != seats[one][0])
    same = next(name for name in seats if name != one and seats[name][0] == seats[one][0])
    acts.swap(grouping, sits(grouping, people[one]), sits(grouping, people[other]))
    now = {seat.musician.given_name: (seat.number, seat.role) for seat in
           grouping.seats.select_related("musician")}  # fmt: skip
    assert (now[one], now[other]) == (seats[other], seats[one])
    assert {name: now[name] for name in seats if name not in (one, other)} == {
        name: seats[name] for name in seats if name not in (one, other)
    }
    with pytest.raises(StandlightError, match="in the same group"):
        acts.swap(grouping, sits(grouping, people[other]), sits(grouping, people[same]))
    for who in (acts.Sits(cast.singer.pk, 1), sits(grouping, people[one]), acts.Sits(0, 0)):
        with pytest.raises(StandlightError, match="two musicians are needed"):
            acts.swap(grouping, sits(grouping, people[one]), who)


def test_a_swap_tapped_twice_or_from_an_older_page_is_refused_and_changes_nothing(cast, people):
    grouping = made(cast, people.values())
    shown = {name: sits(grouping, one) for name, one in people.items()}
    one = "Abel"
    other, third = (
        next(name for name in people if shown[name].number == number)
        for number in (1, 2, 3) if number != shown[one].number
    )  # fmt: skip
    acts.swap(grouping, shown[one], shown[other])
    after = numbers(grouping)
    for pair, told in (((one, other), one), ((third, one), one), ((other, third), other)):
        with pytest.raises(StandlightError, match=f"{told} Quist sits in group {after[told]} by"):
            acts.swap(grouping, *(shown[name] for name in pair))
    assert numbers(grouping) == after
    acts.swap(grouping, sits(grouping, people[one]), sits(grouping, people[other]))
    assert numbers(grouping) == {name: seat.number for name, seat in shown.items()}


def test_a_swap_by_hand_that_breaks_a_wish_is_told_with_no_proof(cast, people):
    wish(cast, people["Abel"], people["Cleo"])
    grouping = made(cast, people.values())
    of = numbers(grouping)
    other = next(name for name in of if of[name] == of["Cleo"] and name != "Cleo")
    acts.swap(grouping, sits(grouping, people["Abel"]), sits(grouping, people[other]))
    page = pages.grouping_page(grouping)
    assert page.broken == (
        f"Abel Quist and Cleo Quist are to be kept apart, and both sit in group {of['Cleo']}.",
    )
    assert (page.cannot, page.fixes) == ((), ())


def test_a_musician_reads_the_names_of_their_own_group_once_it_is_shared(cast, people):
    grouping = made(cast, people.values())
    abel, of = people["Abel"], numbers(grouping)
    assert my_groups(abel.account) == ()
    with pytest.raises(StandlightError, match="not kept yet"):
        acts.share(grouping, True)
    acts.keep(grouping, "Talk about the march")
    assert my_groups(abel.account) == ()
    acts.share(grouping, True)
    mine = my_groups(abel.account)[0]
    others = {name for name in of if of[name] == of["Abel"] and name != "Abel"}
    assert {one.split(" (")[0] for one in mine.others} == {f"{name} Quist" for name in others}
    assert (mine.title, mine.number) == ("Talk about the march", of["Abel"])
    seen = GroupSeat.objects.visible_to(abel.account)
    assert {seat.musician.given_name for seat in seen} == others | {"Abel"}
    assert my_groups(cast.musician.account) == my_groups(cast.singer.account) == ()
    assert not GroupWish.objects.visible_to(abel.account).exists()
    acts.share(grouping, False)
    assert my_groups(abel.account) == ()


def test_bad_requests_are_refused_and_nothing_is_written(cast, people):
    cases = (
        ({"size": 1}, list(people.values()), "cannot be made"),
        ({"size": 99}, list(people.values()), "cannot be made"),
        ({"parts": "odd"}, list(people.values()), "no way to treat parts"),
        ({}, [people["Abel"]], "two musicians at least"),
        ({}, [cast.singer, cast.outsider_musician], "two musicians at least"),
    )
    for asked, who, sentence in cases:
        with pytest.raises(StandlightError, match=sentence):
            made(cast, who, **asked)
    assert not Grouping.objects.exists()


def test_an_unkept_draft_goes_after_two_weeks_and_kept_groups_stay(cast, people):
    kept = made(cast, people.values())
    acts.keep(kept, "Kept")
    draft = made(cast, people.values())
    now = timezone.now()
    remove_expired_sound(now + datetime.timedelta(13))
    assert Grouping.objects.count() == 2
    remove_expired_sound(now + datetime.timedelta(15))
    assert list(Grouping.objects.all()) == [kept] != [draft]


def test_who_leaves_is_gone_from_groups_and_wishes_and_the_page_still_opens(cast, people):
    wish(cast, people["Abel"], people["Cleo"])
    grouping = made(cast, people.values(), size=2)
    forget_musician(cast.director, people["Abel"], people["Abel"].roster_id)
    assert grouping.seats.count() == 11
    assert not GroupWish.objects.exists()
    assert sum(len(one.members) for one in pages.grouping_page(grouping).groups) == 11
    assert len(pages.groups_page(cast.director)[0].lines) == 1


def test_the_file_of_one_musician_holds_their_groups_and_no_wish_and_nobody_else(cast, people):
    wish(cast, people["Abel"], people["Cleo"])
    grouping = made(cast, people.values())
    acts.keep(grouping, "Talk")
    rows = musician_record(cast.director, people["Abel"]).rows
    assert [one["groups"] for one in rows["groups"]] == ["Talk"]
    told = str(rows)
    assert not any(name in told for name in people if name != "Abel")
    assert not any(word in told.lower() for word in ("wish", "apart", "together"))
