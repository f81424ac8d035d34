"""Groups: wishes hold whenever they can, proofs are proofs, nothing is lost against every way."""

from collections import Counter
from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from standlight.errors import StandlightError
from standlight.planning import (
    CANNOT_HOLD,
    REASONS,
    ROLES,
    SECTIONAL_ROLES,
    GroupRequest,
    Member,
    make_groups,
    nearest_fixes,
    tell_groups,
)
from standlight.planning.pair_costs import pair_costs
from standlight.planning.wishes import placed, units_of

PART_NAMES = ("Flute", "Horn", "Bass", "Drum")


def ensemble(n, seed=0, parts=4):
    random = np.random.default_rng(seed)
    return tuple(
        Member(f"m{k:03}", PART_NAMES[int(random.integers(parts))], float(random.integers(1, 5)),
               str(random.choice(["yes", "no", "perhaps"])),
               tuple(float(s) for s in random.uniform(0, 60, 3)))
        for k in range(n)
    )  # fmt: skip


def random_request(seed, n=None):
    random = np.random.default_rng(seed)
    n = n or int(random.integers(5, 10))
    members = ensemble(n, seed)
    keys = [member.key for member in members]

    def some(size):
        return tuple(str(key) for key in random.choice(keys, size, replace=False))

    apart = tuple(some(2) for _ in range(int(random.integers(0, 9))))
    together = tuple(some(int(random.integers(2, 4))) for _ in range(int(random.integers(0, 3))))
    earlier = (tuple(tuple(keys[k::2]) for k in range(2)),) if seed % 2 else ()
    return GroupRequest(members, int(random.integers(2, 5)), ("mixed", "same", "any")[seed % 3],
                        apart, together, earlier, seed=seed)  # fmt: skip


def ways(keys, sizes):
    """Every way to fill groups of these sizes; equal sizes may come in any order."""
    if not sizes:
        yield ()
        return
    head, *rest = keys
    for size in sorted(set(sizes)):
        left = list(sizes)
        left.remove(size)
        for more in combinations(rest, size - 1):
            others = [key for key in rest if key not in more]
            for tail in ways(others, left):
                yield ((head, *more), *tail)


def holds(request, groups):
    of = {key: n for n, group in enumerate(groups) for key in group}
    return all(of[a] != of[b] for a, b in request.keep_apart) and all(
        len({of[key] for key in wish}) == 1 for wish in request.keep_together
    )


def cost(request, groups):
    place = {member.key: n for n, member in enumerate(request.members)}
    costs = pair_costs(request)
    return sum(costs[place[a], place[b]] for group in groups for a, b in combinations(group, 2))


@pytest.mark.parametrize("seed", range(60))
def test_wishes_hold_whenever_any_way_holds_them_and_the_best_of_those_is_found(seed):
    request = random_request(seed)
    keys = [member.key for member in request.members]
    found = make_groups(request)
    groups = [group.members for group in found.groups]
    assert sorted(key for group in groups for key in group) == keys
    assert sorted(map(len, groups)) == sorted(request.sizes)
    possible = [way for way in ways(keys, list(request.sizes)) if holds(request, way)]
    assert (not found.broken) == holds(request, groups)
    if possible:
        assert not found.broken
        assert not found.cannot_hold
        assert found.cost == pytest.approx(min(cost(request, way) for way in possible), abs=1e-6)
    else:
        assert found.broken
        assert found.cannot_hold, "a small case is searched to its end"
    assert found.cost == pytest.approx(cost(request, groups), abs=1e-6)


def test_both_kinds_of_small_case_occur_above():
    kinds = Counter(bool(make_groups(random_request(seed)).broken) for seed in range(0, 60, 3))
    assert kinds[True] >= 3
    assert kinds[False] >= 3


@pytest.mark.parametrize("seed", range(12))
def test_too_many_apart_is_said_of_a_true_clique_and_of_every_graph_that_has_one(seed):
    random = np.random.default_rng(seed)
    members = ensemble(24, seed)
    keys = [member.key for member in members]
    pairs = tuple(pair for pair in combinations(keys, 2) if random.random() < 0.35)
    request = GroupRequest(members, 6, keep_apart=pairs)
    edges = {frozenset(pair) for pair in pairs}
    cliques = [(key,) for key in keys]
    while cliques:
        largest = len(cliques[0])
        cliques = [
            (*clique, key)
            for clique in cliques
            for key in keys
            if key > clique[-1] and all(frozenset((key, one)) in edges for one in clique)
        ]
    proofs = [one for one in units_of(request).proofs if one.code == "too_many_apart"]
    assert bool(proofs) == (largest > len(request.sizes))
    for proof in proofs:
        assert len(proof.members) > len(request.sizes)
        assert {frozenset(pair) for pair in combinations(proof.members, 2)} <= edges


def test_the_search_proves_what_no_clique_shows():
    # An odd ring of five, in two groups: no three are all apart, and yet two groups never do.
    members = ensemble(6)
    keys = [member.key for member in members]
    ring = tuple((keys[n], keys[(n + 1) % 5]) for n in range(5))
    found = make_groups(GroupRequest(members, 3, keep_apart=ring))
    assert [one.code for one in found.cannot_hold] == ["no_way"]
    assert len(found.broken) == 1, "one broken wish is the least that a ring of five needs"


def test_sets_too_large_or_with_a_pair_to_be_apart_are_told_and_broken_as_little_as_can_be():
    members = ensemble(8)
    keys = [member.key for member in members]
    large = make_groups(GroupRequest(members, 4, keep_together=(tuple(keys[:5]),)))
    assert [(one.code, one.members) for one in large.cannot_hold] == [
        ("too_large", tuple(keys[:5]))
    ]
    assert any(set(group.members) <= set(keys[:5]) for group in large.groups)
    together = ((keys[0], keys[1]), (keys[1], keys[2]))
    asked = GroupRequest(members, 4, keep_together=together, keep_apart=((keys[0], keys[2]),))
    inside = make_groups(asked)
    assert [(one.code, one.members) for one in inside.cannot_hold] == [
        ("apart_inside", (keys[0], keys[2]))
    ]
    assert len(inside.broken) == 1
    assert {one.code for one in (*large.cannot_hold, *inside.cannot_hold)} <= set(CANNOT_HOLD)


@pytest.mark.parametrize("seed", range(60))
def test_every_fix_holds_and_the_size_is_the_nearest_that_does(seed):
    request = random_request(seed)
    keys = [member.key for member in request.members]

    def possible(asked):
        return any(holds(asked, way) for way in ways(keys, list(asked.sizes)))

    fixes = nearest_fixes(request)
    near = sorted(
        (size for size in range(2, len(keys) + 1) if size != request.size),
        key=lambda size: (abs(size - request.size), size),
    )
    able = [size for size in near if possible(replace(request, size=size))]
    assert fixes.size == (able[0] if able else None)
    expected = []
    for name in ("keep_apart", "keep_together"):
        wishes = getattr(request, name)
        for n, wish in enumerate(wishes):
            if possible(replace(request, **{name: wishes[:n] + wishes[n + 1 :]})):
                expected.append(wish)
    assert list(fixes.give_up) == expected


def test_groups_that_stand_are_told_as_those_that_were_found():
    request = random_request(4, 12)
    found = make_groups(request)
    roles = {key: role for group in found.groups for role, key in group.roles}
    told = tell_groups(request, [group.members for group in found.groups], roles)
    assert told.groups == found.groups
    assert (told.cost, told.broken) == (pytest.approx(found.cost), found.broken)
    first, second = (list(group.members) for group in found.groups[:2])
    first[0], second[0] = second[0], first[0]
    rest = [group.members for group in found.groups[2:]]
    swapped = tell_groups(request, [first, second, *rest], roles)
    assert swapped.cost == pytest.approx(cost(request, [first, second, *rest]))
    assert set(swapped.groups[0].members) == set(first)
    with pytest.raises(StandlightError, match="every musician once"):
        tell_groups(request, [first, first, *rest], roles)


def test_many_wishes_of_a_large_ensemble_that_can_hold_do_hold():
    random = np.random.default_rng(2)
    members = ensemble(100, 2)
    keys = [member.key for member in members]
    planted = [keys[k::20] for k in range(20)]
    of = {key: n for n, group in enumerate(planted) for key in group}
    apart = tuple(pair for pair in combinations(keys, 2)
                  if of[pair[0]] != of[pair[1]] and random.random() < 0.03)  # fmt: skip
    together = tuple((group[0], group[1]) for group in planted[:8])
    request = GroupRequest(members, 5, keep_apart=apart, keep_together=together)
    assert len(apart) > 100
    start, proofs = placed(units_of(request), request.sizes, np.random.default_rng(0))
    assert start is not None
    assert proofs == ()
    found = make_groups(request)
    assert found.broken == ()
    assert holds(request, [group.members for group in found.groups])


def test_a_roster_in_another_order_gives_the_same_groups():
    request = random_request(7, 24)
    shuffled = tuple(request.members[n] for n in np.random.default_rng(1).permutation(24))
    again = GroupRequest(shuffled, request.size, request.parts, request.keep_apart,
                         request.keep_together, request.earlier, seed=request.seed)  # fmt: skip
    assert make_groups(again) == make_groups(request)


def test_other_names_give_groups_as_good():
    request = GroupRequest(ensemble(60, 3), 5)
    names = np.random.default_rng(4).permutation(60)
    renamed = tuple(
        Member(f"z{names[n]:02}", one.part, one.level, one.answer, one.listening)
        for n, one in enumerate(request.members)
    )
    random_ways = [cost(request, np.array_split(np.random.default_rng(s).permutation(
        [one.key for one in request.members]), 12)) for s in range(30)]  # fmt: skip
    here, there = make_groups(request).cost, make_groups(GroupRequest(renamed, 5)).cost
    assert abs(here - there) < 0.03 * (np.mean(random_ways) - here)


def test_mixed_groups_hold_as_many_parts_as_can_be_and_sectionals_one():
    members = tuple(Member(f"m{n:02}", PART_NAMES[n % 4]) for n in range(32))
    mixed = make_groups(GroupRequest(members, 4))
    assert all(group.reasons[0].n == 4 for group in mixed.groups)
    same = make_groups(GroupRequest(members, 4, parts="same", roles=SECTIONAL_ROLES))
    assert all(group.reasons[0].code == "parts_same" for group in same.groups)
    assert all(group.reasons[0].n == 4 for group in same.groups)


def test_levels_answers_maps_and_earlier_groups_all_count():
    members = ensemble(40, 5)
    first = make_groups(GroupRequest(members, 4))
    before = tuple(group.members for group in first.groups)
    again = make_groups(GroupRequest(members, 4, earlier=(before,)))
    met = {frozenset(pair) for group in before for pair in combinations(group, 2)}
    repeats = [pair for group in again.groups for pair in combinations(group.members, 2)
               if frozenset(pair) in met]  # fmt: skip
    assert len(repeats) <= 2
    told = {one.code: one for one in again.groups[0].reasons}
    assert set(told) == {"parts_mixed", "answers_differ", "maps_differ", "levels_near",
                         "new_together"} == set(REASONS) - {"parts_same"}  # fmt: skip
    away = [abs(one.value) for group in first.groups for one in group.reasons
            if one.code == "levels_near"]  # fmt: skip
    by_lot = np.random.default_rng(0).permutation([one.level for one in members])
    lot_away = np.abs(by_lot.reshape(10, 4).mean(axis=1) - by_lot.mean())
    assert np.mean(away) < 0.6 * lot_away.mean()


def test_roles_go_to_who_had_them_least_and_helpers_play_well():
    members = (Member("a", "Flute", 4.0, roles_before=("helper",)), Member("b", "Flute", 3.5),
               Member("c", "Flute", 1.0), Member("d", "Flute", 2.0))  # fmt: skip
    group = make_groups(GroupRequest(members, 4, parts="same", roles=SECTIONAL_ROLES)).groups[0]
    assert dict(group.roles)["helper"] == "b"
    everybody = make_groups(GroupRequest(ensemble(30), 5))
    for one in everybody.groups:
        assert {role for role, _ in one.roles} <= set(ROLES)
        assert len({key for _, key in one.roles}) == len(one.roles) == 4
        assert {key for _, key in one.roles} <= set(one.members)


def test_no_reason_of_a_group_tells_a_wish():
    request = random_request(9, 12)
    assert request.keep_apart
    bare = GroupRequest(request.members, request.size, request.parts, earlier=request.earlier)
    codes = [{one.code for group in make_groups(each).groups for one in group.reasons}
             for each in (request, bare)]  # fmt: skip
    assert codes[0] == codes[1]


def test_bad_requests_are_refused_with_the_likely_slip():
    members = ensemble(4)
    cases = (
        ({"members": (), "size": 3}, "nobody is there"),
        ({"members": members, "size": 1}, "two is the smallest"),
        ({"members": members * 2, "size": 3}, "twice"),
        ({"members": members, "size": 3, "keep_apart": (("m000", "gone"),)}, "absent today"),
        ({"members": members, "size": 3, "keep_apart": (("m000", "m000"),)}, "themselves"),
        ({"members": members, "size": 3, "parts": "odd"}, "no way to treat"),
    )
    for asked, sentence in cases:
        with pytest.raises(StandlightError, match=sentence):
            GroupRequest(**asked)


def test_one_musician_or_one_group_is_no_trouble():
    assert make_groups(GroupRequest(ensemble(1), 4)).groups[0].members == ("m000",)
    assert len(make_groups(GroupRequest(ensemble(4), 9)).groups) == 1
