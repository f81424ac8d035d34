"""Who plays which part by default."""

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from standlight.programme.casting import (
    PartFacts,
    SectionFacts,
    default_parts,
    number_in_name,
    parts_for,
)

CLARINET = "Clarinet in Bb"
CLARINETS = [PartFacts(n, f"Clarinet in Bb {n}", CLARINET, 100) for n in (1, 2, 3)]
DRUMS = [
    PartFacts(11, "Snare drum", "Snare drum", 50),
    PartFacts(12, "Timpani", "Timpani (pair 29/26 in)", 20),
    PartFacts(13, "Bells", "Glockenspiel / bells", 30),
]


@pytest.mark.parametrize(
    ("name", "number"),
    [("Violin II", 2), ("Violino I", 1), ("2nd Clarinet", 2), ("First Alto", 1), ("Horn in F 4", 4),
     ("Flute", None), ("Clarinet in Bb", None), ("Trombone 1 and 2", None)],
)  # fmt: skip
def test_numbers_are_read_as_scores_write_them(name, number):
    assert number_in_name(name) == number


@given(st.integers(1, 40))
def test_divisi_parts_are_shared_evenly_in_order(n_seats):
    given_parts = default_parts(
        SectionFacts("Clarinet", CLARINET), list(range(n_seats)), CLARINETS + DRUMS
    )
    assert set(given_parts) == set(range(n_seats))
    counts = Counter(given_parts.values())
    sizes = [counts[part.pk] for part in CLARINETS]
    assert max(sizes) - min(sizes) <= 1
    assert [given_parts[seat] for seat in range(n_seats)] == sorted(given_parts.values())


def test_a_numbered_section_takes_its_own_part():
    parts = parts_for(SectionFacts("Clarinet 3", CLARINET), CLARINETS)
    assert [part.pk for part in parts] == [3]


def test_percussion_moves_one_part_on_with_every_piece():
    section = SectionFacts("Percussion", "Percussion")
    turns = [default_parts(section, [1, 2, 3], CLARINETS + DRUMS, turn=turn) for turn in range(3)]
    assert [turn[1] for turn in turns] == [11, 12, 13]
    assert all(sorted(turn.values()) == [11, 12, 13] for turn in turns)


def test_a_section_that_no_part_names_gets_none():
    assert default_parts(SectionFacts("Oboe", "Oboe"), [1, 2], CLARINETS) == {}


def test_a_euphonium_takes_the_part_in_the_other_clef():
    treble = PartFacts(5, "Baritone T.C.", "Baritone / euphonium (treble clef)", 10)
    section = SectionFacts("Baritone", "Baritone / euphonium (bass clef)")
    assert default_parts(section, [1], [treble]) == {1: 5}


def test_a_clarinet_in_a_part_is_not_handed_to_a_clarinet_in_b_flat():
    part = PartFacts(5, "A Clarinet", "Clarinet in A", 10)
    assert default_parts(SectionFacts("Clarinet", CLARINET), [1], [part]) == {}


def test_parts_without_a_note_are_passed_over_while_others_sound():
    parts = [PartFacts(1, "Flute 1", "Flute", 0), PartFacts(2, "Flute 2", "Flute", 9)]
    assert default_parts(SectionFacts("Flute", "Flute"), [7, 8], parts) == {7: 2, 8: 2}


def test_a_late_joiner_takes_the_part_with_the_fewest():
    have = {1: 1, 2: 1, 3: 2, 4: 3}
    section = SectionFacts("Clarinet", CLARINET)
    assert default_parts(section, [1, 2, 3, 4, 5], CLARINETS, given=have) == {5: 2}
