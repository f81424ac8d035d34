"""A fair passage for every part of real pieces, or an honest none."""

from dataclasses import replace

import numpy as np
import pytest
from tests.score_makers import score_of
from tests.scores import REAL, real
from tests.several_parts import BUSY, FLUTE, PLAIN, REST, several_parts

from standlight.criteria import CRITERIA
from standlight.passages import find_passages, look, survey_piece
from standlight.passages.choosing import FARTHEST_FROM_LEVEL, common_window
from standlight.score import line_to_musicxml, read_score

CHOICES = (("rhythm", "dynamics", "articulation"), ("tone", "intonation", "rhythm"))


def chosen(keys):
    return [CRITERIA[key] for key in keys]


def flute(line, **more):
    return survey_piece(read_score(line_to_musicxml(line, instrument="Flute")), **more)


@pytest.fixture(scope="module")
def surveys():
    kept = {}

    def survey(name):
        if name not in kept:
            kept[name] = survey_piece(read_score(real(name)))
        return kept[name]

    return survey


@pytest.mark.parametrize("keys", CHOICES, ids=",".join)
@pytest.mark.parametrize("name", REAL)
def test_demand_over_parts_is_fair_and_everything_is_really_shown(surveys, name, keys):
    survey = surveys(name)
    found = find_passages(survey, chosen(keys))
    assert [part.part for part in found.parts] == list(range(len(survey.profiles)))
    demands = []
    for part in found.parts:
        assert part.because
        if part.passage is None:
            continue
        profile = survey.profiles[part.part]
        assert not part.passage.missing
        for key, value in part.passage.shows.items():
            assert CRITERIA[key].asks.least <= value <= 1
        assert set(part.passage.shows) == {
            key for key in keys if CRITERIA[key].applies_to(profile.family)
        }
        if profile.group == "lines":
            demands.append(part.passage.demand)
            assert abs(part.passage.demand - found.level) <= FARTHEST_FROM_LEVEL
    if len(demands) > 1:
        assert found.demand_sd == pytest.approx(np.std(demands))
        # The figure: at most half of that of one common window, unless already small.
        assert found.demand_sd <= max(0.02, found.common_window_sd / 2)


def test_the_common_window_is_the_best_of_those_that_most_parts_can_play(surveys):
    survey = surveys("tenth_regiment_hall.mxl")
    spread, first = common_window(survey)
    lines = [p.index for p in survey.profiles if p.group == "lines"]
    playing = {
        at: [survey.windows[p].demand[np.flatnonzero(survey.windows[p].firsts == at)[0]]
             for p in lines if at in survey.windows[p].firsts]
        for at in range(104)
    }  # fmt: skip
    most = max(len(demands) for demands in playing.values())
    spreads = {at: np.std(d) for at, d in playing.items() if len(d) == most}
    assert spread == pytest.approx(min(spreads.values()))
    assert spreads[first] == pytest.approx(spread)


def test_one_place_for_all_is_one_for_those_who_are_there():
    """Two of three play together early, two late; who is not in the group does not count."""
    early = " | ".join([BUSY, PLAIN, *[REST] * 8])
    late = " | ".join([*[REST] * 8, BUSY, PLAIN])
    parts = (("Flute", FLUTE), ("Oboe", early), ("Clarinet in Bb", early), ("Horn in F", late))
    survey = survey_piece(read_score(several_parts(parts, letters=())), length_measures=4)
    _, everybody = common_window(survey)
    _, without_oboe_and_clarinet = common_window(survey, parts={0, 3})
    assert everybody <= 4 and without_oboe_and_clarinet >= 8
    found = find_passages(survey, [], parts={0, 3})
    assert found.common_first == without_oboe_and_clarinet
    assert common_window(survey, parts={0}) == (None, None)


def test_a_part_that_never_plays_four_measures_in_a_row_is_told_so():
    drum = " | ".join([REST] * 14 + ["x h x q x", "x w"])
    data = several_parts((("Flute", FLUTE), ("Snare drum", drum)), letters=())
    found = find_passages(survey_piece(read_score(data)), []).parts[1]
    assert found.passage is None and not found.alternatives
    assert found.because.endswith("it has no four measures in a row to be heard alone.")


def test_a_part_that_rests_throughout_has_none_and_says_so():
    rests = "\n".join(['<note><rest measure="yes"/><duration>4</duration></note>'] * 8)
    (part,) = find_passages(survey_piece(read_score(score_of(rests))), []).parts
    assert part.passage is None and part.because == "This part rests throughout."


def test_a_part_without_dynamics_has_none_for_dynamics_and_offers_the_nearest_places():
    line = " | ".join(["C5 q D5 E5 e F5 G5 q", "A5 h G5 q. F5 e"] * 6)
    (part,) = find_passages(flute(line), chosen(["rhythm", "dynamics"])).parts
    assert part.passage is None
    assert "shows dynamics: dynamics needs two written levels" in part.because
    assert part.alternatives and all(one.missing == ("dynamics",) for one in part.alternatives)


def test_a_part_that_plays_only_a_few_measures_in_a_row_still_gets_its_nearest_place():
    phrase = "C5 q D5 E5 F5 | G5 h E5 | F5 q E5 D5 E5 | C5 w"
    silence = " | ".join(["r w"] * 6)
    line = f"{silence} | {phrase} | {silence}"
    other = read_score(line_to_musicxml(" | ".join(["C4 q D4 E4 h"] * 16), instrument="Flute"))
    rests = read_score(line_to_musicxml(line, instrument="Oboe")).parts[0]
    survey = survey_piece(replace(other, parts=(*other.parts, replace(rests, index=1))))
    assert survey.length == 8
    oboe = find_passages(survey, chosen(["rhythm", "dynamics"])).parts[1]
    assert oboe.passage is None and "shows dynamics" in oboe.because
    assert [(one.first, one.last) for one in oboe.alternatives][0] == (6, 9)


def test_a_piece_shorter_than_a_passage_is_taken_whole():
    (part,) = find_passages(flute("C5 q D5 E5 F5 | G5 h E5 | F5 q E5 D5 E5 | C5 w"), []).parts
    assert (part.passage.first, part.passage.last) == (0, 3)


def test_a_reason_says_what_is_there():
    line = "mf ( C5 q D5 ) E5 e' F5 e' G5 q> | A5 h f G5 q. F5 e | ( E5 q D5 ) C5 h | C5 w"
    survey = flute(line)
    seen = look(survey, 0, 0, 3, chosen(["dynamics", "articulation", "notes"]))
    assert "Dynamics: mf to f." in seen.reason
    assert "two slurs" in seen.reason and "one accent" in seen.reason
    assert "Written C5 to A5" in seen.reason and seen.reason.endswith("Begins the piece.")


def test_notes_outside_the_school_range_and_beyond_the_grade_are_flagged():
    survey = flute("D7 q E7 C7 B6 | A6 h G6 | F6 q E6 D6 s E6 F6 G6 A6 q | C6 w", grade=1)
    seen = look(survey, 0, 0, 3)
    assert seen.flags[0] == "Two notes above the school range (written C7)."
    assert seen.flags[1] == (
        "Beyond grade 1: written E7, above C6, values shorter than eighth notes."
    )


def test_a_part_that_can_only_ask_much_less_has_none_and_says_how_far(surveys):
    found = find_passages(surveys("brahms_op45_1.mxl"), chosen(CHOICES[1]))
    trombone = found.parts[9]
    assert trombone.passage is None
    assert trombone.because.startswith("This part has none that compares")
    assert "asks less than the others'" in trombone.because
    nearest = max(place.demand for place in trombone.alternatives)
    assert nearest < found.level - FARTHEST_FROM_LEVEL


def test_only_the_parts_asked_for_bear_on_the_level():
    calm = " | ".join(["C5 h D5 q E5"] * 12)
    busy = " | ".join(["C5 s E5 G5 C#5 F5 A5 D5 Bb5 C5 F#5 A5 E5 G5 C6 D5 Ab5"] * 12)
    one = read_score(line_to_musicxml(calm, instrument="Flute"))
    other = read_score(line_to_musicxml(busy, instrument="Flute")).parts[0]
    survey = survey_piece(replace(one, parts=(*one.parts, replace(other, index=1))))
    alone = [find_passages(survey, [], parts={part}).level for part in (0, 1)]
    together = find_passages(survey, []).level
    assert alone[0] < 0.5 < alone[1]
    assert alone[0] - 0.01 <= together <= alone[1] + 0.01
    (only,) = find_passages(survey, [], parts={1}).parts
    assert only.part == 1 and only.passage is not None


def test_passages_do_not_cross_a_first_ending_or_a_movement(surveys):
    survey = surveys("hensel_quartet_e_flat.mxl")
    movements = survey.setting.movements
    for part in find_passages(survey, chosen(["rhythm"])).parts:
        for one in (part.passage, *part.alternatives):
            assert movements[one.first] == movements[one.last]
    score = read_score(real("tenth_regiment_hall.mxl"))
    follows = set(zip(score.play_order, score.play_order[1:], strict=False))
    for part in find_passages(surveys("tenth_regiment_hall.mxl"), []).parts:
        if part.passage:
            for at in range(part.passage.first, part.passage.last):
                assert (at, at + 1) in follows


def test_slips_are_said():
    with pytest.raises(ValueError, match="is none"):
        flute("C5 w", length_measures=0)
    with pytest.raises(ValueError, match="grade 9"):
        flute("C5 w", grade=9)
    survey = flute("C5 w | D5 w")
    with pytest.raises(ValueError, match="swapped"):
        look(survey, 0, 1, 0)
    with pytest.raises(ValueError, match="parts 0 to 0"):
        look(survey, 3, 0, 0)
