"""A first passage for every part."""

import pytest
from tests.score_makers import ATTRIBUTES, note, score_of
from tests.scores import REAL, real

from standlight.score import (
    line_to_musicxml,
    passage_reason,
    player_line,
    propose_passages,
    read_score,
    why_no_passage,
)


@pytest.mark.parametrize("name", REAL)
def test_a_proposal_plays_begins_and_ends_as_the_rule_says(name):
    score = read_score(real(name))
    proposals = propose_passages(score)
    assert len(proposals) == len(score.parts)
    for part, proposal in zip(score.parts, proposals, strict=True):
        if proposal is None:
            assert why_no_passage(score, part.index)
            continue
        first, last = score.measures[proposal.first], score.measures[proposal.last]
        start, end = first.onset_quarters, last.onset_quarters + last.length_quarters
        line = player_line(part.notes)
        inside = [one for one in line if start <= one.onset_quarters < end]
        # The plain form of the clever sums, as oracle.
        sounding = sum(
            min(one.onset_quarters + one.duration_quarters, end) - one.onset_quarters
            for one in inside
        )
        assert sounding > (end - start) / 2
        assert any(one.measure == proposal.first for one in inside)
        assert not any(
            one.onset_quarters < start < one.onset_quarters + one.duration_quarters for one in line
        )
        assert first.movement == last.movement
        order = list(score.play_order)
        runs = list(range(proposal.first, proposal.last + 1))
        assert any(order[at : at + len(runs)] == runs for at in range(len(order)))
        assert proposal.reason == passage_reason(score, part.index, proposal.first, proposal.last)


def test_the_asked_length_is_kept_where_there_is_enough_music():
    score = read_score(real("tenth_regiment_hall.mxl"))
    for length in (4, 8, 12):
        proposals = propose_passages(score, length_measures=length)
        assert max(one.last - one.first + 1 for one in proposals if one) == length


def test_doubled_parts_get_the_same_passage():
    score = read_score(real("tenth_regiment_hall.mxl"))
    by_name = dict(zip([part.name for part in score.parts], propose_passages(score), strict=True))
    assert by_name["Horn in F 3"] == by_name["Horn in F 4"]


def test_a_part_that_rests_throughout_has_none_and_says_so():
    score = read_score(score_of(ATTRIBUTES + "<note><rest/><duration>8</duration></note>"))
    assert propose_passages(score) == (None,)
    assert why_no_passage(score, 0) == "rests throughout"


def test_a_part_that_hardly_plays_has_none_and_says_why():
    stroke = note("C", 4, 1) + "<note><rest/><duration>7</duration></note>"
    score = read_score(score_of("\n".join([ATTRIBUTES + stroke, stroke, stroke, stroke])))
    assert propose_passages(score) == (None,)
    assert "rests more" in why_no_passage(score, 0)


def test_a_rehearsal_letter_draws_the_passage_to_it():
    letter = "<direction><direction-type><rehearsal>B</rehearsal></direction-type></direction>"
    bar = "".join(note(step, 4, 2) for step in "CDEF")
    score = read_score(score_of("\n".join([ATTRIBUTES + bar, bar, letter + bar, bar, bar, bar])))
    proposal = propose_passages(score, length_measures=2)[0]
    assert (proposal.first, proposal.last) == (2, 3)
    assert "begins at B" in proposal.reason


def test_a_passage_does_not_begin_inside_a_held_note():
    line = "r w | C4 w~ | C4 w | D4 q E4 F4 G4 | C4 w"
    score = read_score(line_to_musicxml(line, instrument="Flute"))
    for length in (2, 3, 4):
        assert propose_passages(score, length_measures=length)[0].first != 2


def test_a_length_of_nothing_is_refused():
    score = read_score(line_to_musicxml("C4 w", instrument="Flute"))
    with pytest.raises(ValueError, match="0 measures"):
        propose_passages(score, length_measures=0)
