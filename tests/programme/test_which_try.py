"""Which try counts: the last or the best, and tries after the last day do not."""

import datetime
import itertools
from dataclasses import dataclass, field

import pytest
from django.utils import timezone

from standlight.programme.queries.standing import one_seat_each, seats_of, standing, turns_of
from standlight.programme.queries.which_try import TryRule, rule_of
from tests.programme.desk_scene import ALL_THREE, make_scene, send

NOON = datetime.datetime(2026, 11, 20, 12, tzinfo=datetime.UTC)
DAY = NOON.date()


@dataclass(frozen=True)
class OneTry:
    attempt: int
    levels: dict = field(default_factory=dict)
    days: int | None = 0

    @property
    def sent_at(self):
        return None if self.days is None else NOON + datetime.timedelta(self.days)


def test_the_last_rated_try_counts_by_itself_and_an_unrated_one_does_not():
    tries = [OneTry(1, {"rhythm": "4"}), OneTry(2, {"rhythm": "2"}), OneTry(3)]
    assert TryRule().counting(tries).attempt == 2
    assert TryRule().counting([OneTry(1), OneTry(2, {"rhythm": "3"}, None)]) is None


@pytest.mark.parametrize("order", list(itertools.permutations(range(4))))
def test_the_best_try_has_the_highest_mean_in_whatever_order_tries_come(order):
    tries = [
        OneTry(1, {"rhythm": "2", "notes": "2"}),
        OneTry(2, {"rhythm": "4", "notes": "3"}),
        OneTry(3, {"rhythm": "not_heard", "notes": "not_shown"}),
        OneTry(4, {"rhythm": "3", "notes": "3"}),
    ]
    assert TryRule(best=True).counting([tries[n] for n in order]).attempt == 2


def test_of_equal_tries_the_later_counts_and_one_without_a_number_only_when_it_is_alone():
    even = [OneTry(1, {"rhythm": "3"}), OneTry(2, {"rhythm": "3"})]
    assert TryRule(best=True).counting(even).attempt == 2
    unheard = OneTry(3, {"rhythm": "not_heard"})
    assert TryRule(best=True).counting([*even, unheard]).attempt == 2
    assert TryRule(best=True).counting([unheard]).attempt == 3


@pytest.mark.parametrize("best", [False, True])
def test_a_new_try_after_the_last_day_does_not_count_and_a_late_first_one_does(best):
    rule = TryRule(best, until=DAY)
    tries = [OneTry(1, {"rhythm": "2"}, 9), OneTry(2, {"rhythm": "3"}, 0),
             OneTry(3, {"rhythm": "4"}, 1)]
    assert rule.counting(tries).attempt == 2
    assert rule.counting(tries[:1]).attempt == 1
    assert TryRule(best).counting(tries).attempt == 3


def test_best_is_never_below_last_in_the_mean():
    values = ("1", "2", "3", "4")
    for first, second in itertools.product(itertools.product(values, repeat=2), repeat=2):
        tries = [OneTry(1, dict(zip("ab", first, strict=True))),
                 OneTry(2, dict(zip("ab", second, strict=True)))]
        best = TryRule(best=True).counting(tries)
        last = TryRule().counting(tries)
        assert sum(map(int, best.levels.values())) >= sum(map(int, last.levels.values()))


@pytest.mark.django_db
def test_standing_asks_the_checks_own_rule_and_own_days_are_added(cast):
    scene = make_scene(cast)
    check = scene.check
    today = timezone.localdate()
    for attempt, level in ((1, "4"), (2, "2")):
        turn = send(scene, cast.musician, attempt=attempt)
        for criterion in ALL_THREE:
            turn.levels.create(criterion=criterion, value=level, rater=cast.director)
    cast.musician.extra_days = 2
    cast.musician.save()

    def counting():
        seat = next(row for row in one_seat_each(seats_of(cast.band), today)
                    if row.musician_pk == cast.musician.pk)
        turns = turns_of([check])[check.pk, cast.musician.pk]
        return standing(seat, check.due_on, today, turns).counting(check).attempt

    assert counting() == 2
    check.try_counts = check.BEST
    assert counting() == 1
    check.try_counts, check.tries_until = check.LAST, today - datetime.timedelta(1)
    assert rule_of(check).is_over(today)
    assert not rule_of(check, 2).is_over(today)
    assert counting() == 2
    check.tries_until = today - datetime.timedelta(3)
    assert counting() == 1
