"""Places across parts, demands in words and in a strip, the skyline: all from one small score."""

import numpy as np
import pytest

from standlight.criteria import CRITERIA
from standlight.passages import SHIPPED_TABLES, look, skyline, survey_piece
from standlight.programme.queries import bounds, places, seeing
from standlight.programme.queries.fairness import KEYS, PERCUSSION, PartDemand, fairness_of
from standlight.score import read_score
from tests.several_parts import CLARINET, FLUTE_ALONE, REST, several_parts

FLUTE, CLARINET_PART, SNARE, TRUMPET = range(4)
CHOSEN = [CRITERIA[key] for key in ("rhythm", "dynamics", "articulation")]


@pytest.fixture(scope="module")
def survey():
    return survey_piece(read_score(several_parts(FLUTE_ALONE)), length_measures=4, tempo_qpm=96)


def test_the_flute_alone_is_the_exposed_line(survey):
    found = places.exposed_lines(survey, 4, range(4))
    first = found[0]
    # Known from the typed lines: in measures 9 to 12 only the flute plays.
    assert (first.first, first.last, first.printed, first.parts) == (8, 11, "9 to 12", (FLUTE,))
    assert first.others_share == 0.0
    assert CLARINET.split(" | ")[8:12] == [REST] * 4
    assert [one.others_share for one in found] == sorted(one.others_share for one in found)


def test_what_others_sound_is_the_mean_over_the_other_parts_by_hand(survey):
    found = {part: one for one in places.exposed_lines(survey, 4, range(4)) for part in one.parts}
    clarinet = found[CLARINET_PART]
    # Wherever the clarinet plays before 13 the flute sounds all the time, the others never.
    assert clarinet.last < 12
    assert clarinet.others_share == pytest.approx(1 / 3, abs=1e-6)
    assert TRUMPET not in found  # one note is no line


def test_letters_begin_places_that_end_before_the_next_but_for_a_close_one(survey):
    found = places.letters(survey, 8)
    # A (measure 5) has four measures before B; B is followed by C after two, so it runs on.
    assert [(one.words, one.first, one.last) for one in found] == [
        ("letter A", 4, 7), ("letter B", 8, 15), ("letter C", 10, 15),
    ]  # fmt: skip
    bare = survey_piece(read_score(several_parts(letters=())), length_measures=4)
    assert places.letters(bare, 8) == ()


def test_who_plays_somewhere_is_told_from_who_rests(survey):
    seen = places.seen_there(survey, 8, 11, CHOSEN, [3, 0, 1])
    assert [one.part for one in seen] == [0, 1, 3]
    assert [places.n_notes(one) for one in seen] == [14, 0, 0]
    assert [places.plays_enough(one) for one in seen] == [True, False, False]
    with pytest.raises(ValueError, match="measures 3 to 99"):
        places.seen_there(survey, 3, 99, CHOSEN, [0])


def test_nearest_places_miss_as_little_as_can_be(survey):
    ((movement, seen),) = places.nearest_by_movement(survey, SNARE, CHOSEN, 0.5)
    assert (movement, seen.first, seen.last) == (0, 12, 15)
    assert seen.missing == ("dynamics",)
    longer = survey_piece(read_score(several_parts(FLUTE_ALONE)), tempo_qpm=96)
    ((_, seen),) = places.nearest_by_movement(longer, SNARE, CHOSEN, 0.5)
    assert (seen.first, seen.last) == (12, 15)  # no eight measures, but four
    assert places.nearest_by_movement(survey, TRUMPET, CHOSEN, 0.5) == ()


@pytest.mark.parametrize(
    ("part", "first", "last", "words"),
    [
        (FLUTE, 0, 3, ()),
        (CLARINET_PART, 5, 9, ("The last measure is empty.",)),
        (CLARINET_PART, 11, 14, ("The first measure is empty.",)),
        (TRUMPET, 12, 15, ("The first measure is empty.", "Few notes to rate.",
                           "Rests for half of it or more.")),
        (TRUMPET, 0, 3, ()),  # rests throughout, which is said elsewhere
    ],
)  # fmt: skip
def test_what_speaks_against_playing_alone_is_said(survey, part, first, last, words):
    assert places.why_not_alone(survey, part, first, last) == words


def test_a_skyline_draws_a_bar_where_a_passage_of_that_length_begins(survey):
    for length in (4, 6):
        heights = skyline(survey, CLARINET_PART, length)
        drawn = bounds.bars_of(survey, CLARINET_PART, length)
        assert drawn.path.count("M") == sum(one is not None for one in heights)
        assert (drawn.length, "style" in drawn.path) == (length, False)
    four, six = (bounds.bars_of(survey, CLARINET_PART, n).path for n in (4, 6))
    assert four != six


def test_the_ends_stand_at_the_edges_of_their_measures(survey):
    labels = [str(n + 1) for n in range(16)]
    drawn = bounds.bounds_of(survey, FLUTE, 4, 7, labels)
    assert (drawn.first_words, drawn.last_words) == ("measure 5", "measure 8")
    assert drawn.first_x == bounds.PAD_PX + 4 * drawn.unit
    assert drawn.band_width == 4 * drawn.unit
    assert [label.text for label in drawn.letters] == ["A", "B", "C"]
    assert drawn.numbers[0].text == "1"
    apart = np.diff([label.x for label in drawn.numbers])
    assert (apart >= bounds.NUMBER_EVERY_PX).all()


def test_a_look_is_said_in_words_beside_the_others(survey):
    found = look(survey, FLUTE, 0, 3, CHOSEN)
    seen = seeing.seen_of(survey, found, seeing.Others(10, 20))
    assert seen.points == round(100 * found.demand)
    assert seen.beside == "more than the others (10 to 20)"
    assert seen.shows.startswith("Shows ") and "rhythm" in seen.shows
    assert seen.seconds == "10 seconds"  # 16 quarters at 96
    resting = seeing.seen_of(survey, look(survey, TRUMPET, 0, 3, CHOSEN), seeing.Others())
    assert (resting.points, resting.shows) == (None, "")


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(9.9, "10 seconds: little to rate"), (30, "30 seconds"),
     (61, "61 seconds: longer than a check usually takes (15 to 60)"), (1, "1 second: little")],
)  # fmt: skip
def test_a_length_outside_the_usual_is_flagged(seconds, words):
    assert seeing.seconds_words(seconds).startswith(words)


def parts_at(*demands, **more):
    return [PartDemand(f"Part {n}", demand, **more) for n, demand in enumerate(demands)]


@pytest.mark.parametrize(
    ("parts", "sentence"),
    [
        ([], ""),
        (parts_at(0.5), "1 part has a passage (demand 50 of 100)."),
        (parts_at(0.55, 0.6, 0.58),
         "3 parts have a passage that asks about the same (demand 55 to 60 of 100)."),
        (parts_at(0.1, 0.9), "2 parts have passages that do not ask the same: demand 10 to 90 of"
                             " 100."),
        ([*parts_at(0.5, 0.5, 0.5), PartDemand("Horn", 0.3), PartDemand("Tuba", None,
                                                                      has_passage=False)],
         "3 parts have a passage that asks about the same (demand 50 of 100). Horn asks less (30)."
         " 1 has none."),
        ([*parts_at(0.5, 0.5), PartDemand("Drum", 0.9, PERCUSSION), PartDemand("Harp", 0.2, KEYS)],
         "2 parts have a passage that asks about the same (demand 50 of 100). Percussion, compared"
         " among themselves: 90. Harp and keyboard, compared among themselves: 20."),
        (parts_at(None), "1 plays something whose demand is not known."),
    ],
)  # fmt: skip
def test_fairness_is_one_plain_sentence(parts, sentence):
    assert fairness_of(parts, SHIPPED_TABLES).sentence == sentence


def test_the_strip_has_a_mark_for_every_known_demand_and_hides_none():
    parts = [*parts_at(0.5, 0.5, 0.51, 0.9, None), PartDemand("Drum", 0.5, PERCUSSION)]
    fair = fairness_of(parts, SHIPPED_TABLES)
    assert len({(mark.points // 3, y) for mark, y in fair.placed}) == len(fair.marks) == 5
    assert fair.groups == ("lines", "percussion")
    assert [mark.label for mark in fair.marks if mark.label] == ["Part 3"]
    assert next(mark for mark in fair.marks if mark.label).label_side == "end"
    assert all(0 < y < fair.scale_y for _, y in fair.placed)
    assert SHIPPED_TABLES.weight_words["leaps"] in fair.features
