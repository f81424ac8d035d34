"""Every score of the public suite can be surveyed, in any length, without a warning."""

import json

import pytest
from tests.scores import SUITE, suite

from standlight.commands.passages import as_json
from standlight.criteria import CRITERIA
from standlight.errors import StandlightError
from standlight.passages import find_passages, look, skyline, survey_piece
from standlight.score import read_score


@pytest.mark.filterwarnings("error")
@pytest.mark.parametrize("name", SUITE)
def test_a_suite_file_is_surveyed_and_every_answer_is_whole(name):
    try:
        score = read_score(suite(name))
    except StandlightError:
        pytest.skip("refused with a reason: tests/score/test_reading.py")
    for length in (8, 2):
        survey = survey_piece(score, length_measures=length, grade=1)
        for criteria in ((), tuple(CRITERIA.values())):
            found = find_passages(survey, criteria)
            json.dumps(as_json(found), allow_nan=False)
            assert [part.part for part in found.parts] == [part.index for part in score.parts]
            for part in found.parts:
                assert part.because.strip()
                if part.passage is not None:
                    assert part.passage.demand is not None and not part.passage.missing
        for part in score.parts:
            heights = skyline(survey, part.index, length)
            assert len(heights) == len(score.measures)
            assert all(height is None or 0 <= height <= 1 for height in heights)
            whole = look(survey, part.index, 0, len(score.measures) - 1)
            scale = survey.scales[survey.profiles[part.index].group]
            assert (whole.demand is None) == (whole.note_rate_hz == 0 or not scale.n_windows)
