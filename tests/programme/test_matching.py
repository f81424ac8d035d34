"""Whose file is it: by code, roster id, name, else by order; a doubt proposes nobody."""

import pytest
from hypothesis import given
from hypothesis import strategies as some

from standlight.programme.matching import (
    CODE,
    NAME,
    ORDER,
    ROSTER_ID,
    ArrivedFile,
    Match,
    Person,
    by_order,
    in_order,
    matched,
)

MINA = Person(1, "cdefghjkm", "1001", "Mina", "Okafor")
ADA = Person(2, "npqrtwxy3", "1003", "Ada", "Okafor")
ZOE = Person(3, "34679cdef", "B-17", "Zoë", "Vale-Ruiz")
EVERYONE = [MINA, ADA, ZOE]


def one(name, people=EVERYONE):
    return matched([ArrivedFile(9, name)], people).get(9)


@pytest.mark.parametrize(
    ("name", "match"),
    [
        ("cdefghjkm.m4a", Match(1, CODE)),
        ("CDE FGH JKM take.wav", Match(1, CODE)),
        ("cde-fgh-jkm.mp3", Match(1, CODE)),
        ("1003.mp3", Match(2, ROSTER_ID)),
        ("2026-11-20_1003_ode.mp3", Match(2, ROSTER_ID)),
        ("b_17 final.mp3", Match(3, ROSTER_ID)),
        ("Okafor, Ada.mp3", Match(2, NAME)),
        ("MinaOkafor.m4a", Match(1, NAME)),
        ("zoe vale ruiz.ogg", Match(3, NAME)),
        ("Zoë.ogg", Match(3, NAME)),
        ("vale-ruiz.ogg", Match(3, NAME)),
    ],
)
def test_a_name_tells_one_musician(name, match):
    assert one(name) == match


@pytest.mark.parametrize(
    "name", ["okafor.mp3", "take 1.mp3", "10012.mp3", "New Recording 7.m4a", "adamina.mp3", ".m4a"]
)
def test_a_doubtful_name_proposes_nobody(name):
    assert one(name) is None


def test_a_short_roster_id_is_not_read_out_of_take_numbers():
    assert one("take 2.mp3", [Person(5, "cdefghjkm", "2", "Theo", "Lindqvist")]) is None


def test_two_files_that_name_the_same_musician_are_both_left_to_a_person():
    assert matched([ArrivedFile(1, "ada 1.mp3"), ArrivedFile(2, "ada 2.mp3")], EVERYONE) == {}


def test_a_code_is_trusted_before_a_name_and_each_musician_is_proposed_once():
    files = [ArrivedFile(1, "cdefghjkm.mp3"), ArrivedFile(2, "mina.mp3"), ArrivedFile(3, "zoe.mp3")]
    assert matched(files, EVERYONE) == {1: Match(1, CODE), 3: Match(3, NAME)}


def test_files_stand_by_their_time_only_where_every_file_has_its_own():
    early, late = ArrivedFile(1, "b", "2026-11-20T10:00"), ArrivedFile(2, "a", "2026-11-20T10:05")
    assert in_order([late, early]) == [early, late]
    assert in_order([early, ArrivedFile(2, "a", early.time)])[0].key == 2
    assert in_order([early, ArrivedFile(2, "a")])[0].key == 2


def test_the_order_goes_round_what_is_settled_or_left_out():
    assert by_order([4, 5, 6, 7], [1, 2, 3], {5: None, 6: 1}) == {
        4: Match(2, ORDER), 7: Match(3, ORDER),
    }  # fmt: skip


@given(
    some.lists(some.integers(0, 20), unique=True),
    some.lists(some.integers(100, 120), unique=True),
    some.dictionaries(some.integers(0, 20), some.none() | some.integers(100, 120)),
)
def test_by_order_nobody_is_proposed_twice_and_both_orders_are_kept(files, people, settled):
    found = by_order(files, people, settled)
    who = [match.person for match in found.values()]
    assert who == [person for person in people if person in who]
    assert list(found) == [file for file in files if file in found]
    assert not set(found) & set(settled)
    assert not set(who) & set(settled.values())
