"""The panel beside the music: places as jumps into the take, questions after the levels."""

import re
from pathlib import Path

import pytest
from django.urls import reverse

import standlight.web
from standlight.programme.actions.desk import prefer_readings_first, rate
from standlight.programme.models import CheckPassage, GivenLevel
from standlight.programme.queries.desk import LEVEL_KEYS, desk_page
from standlight.programme.queries.desk_questions import JUMP_KEYS, LEAD_IN_S, OfTake, heard_on
from standlight.programme.queries.heard_take import NO_PLACE, NO_PLACE_ASKED, heard_take
from standlight.programme.queries.hearing import passage_of, seat_in
from standlight.score import INSTRUMENTS
from tests.programme.desk_scene import make_scene, note, read, send
from tests.web.scene import sign_in

pytestmark = pytest.mark.django_db

ONSETS = (0, 1, 2, 3, 4, 6, 8, 9, 10, 11, 12)
"""Quarters of the scene's eleven notes; four measures of four."""

SPOT = ("rhythm", 2, 2, "Measure 35: three entries early.")


@pytest.fixture
def turn(cast):
    return send(make_scene(cast, notation=True), cast.musician)


def heard(turn, *, early=(), joins=(), verdicts=(), spots=(SPOT,)):
    """A report in which a quarter lasts half a second and the take begins at 1.5 s."""
    report = read(
        turn, spots=spots, verdicts=verdicts,
        notes=[
            note(i, onset_s=1.5 + 0.5 * quarter, asynchrony_ms=-180.0 if i in early else 0.0)
            for i, quarter in enumerate(ONSETS)
        ],
    )  # fmt: skip
    report.body |= {"seconds": 10.0, "joins": list(joins)}
    report.save()
    return report


def panel_of(cast, turn, **levels):
    rate(cast.director, turn, {"intonation": "3", "rhythm": "3", "notes": "3"} | levels)
    return desk_page(cast.director, turn).panel


def test_a_place_is_a_jump_to_just_before_its_measure_in_the_take(cast, turn):
    heard(turn)
    (jump,) = panel_of(cast, turn).jumps
    assert (jump.words, jump.key, jump.asks) == (SPOT[3], "u", False)
    assert jump.from_s == pytest.approx(1.5 + 0.5 * 8 - LEAD_IN_S)
    assert jump.notes == "6 7 8 9"


def test_a_level_against_the_readings_is_asked_about_first_and_stays_as_it_was(cast, turn):
    heard(turn, early=(6, 7, 8))
    panel = panel_of(cast, turn, rhythm="4")
    assert [jump.asks for jump in panel.jumps] == [True, False]
    assert panel.jumps[0].words == (
        "You gave 4 for rhythm. Three entries are about 180 ms early, in measure 3. Listen again?"
    )
    assert panel.jumps[0].from_s == panel.jumps[1].from_s
    assert [jump.key for jump in panel.jumps] == ["u", "i"]
    standing = GivenLevel.objects.filter(turn=turn, retired_at=None, criterion="rhythm")
    assert [row.value for row in standing] == ["4"]


def test_nothing_is_asked_before_the_levels_are_whole(cast, turn):
    heard(turn, early=(6, 7, 8), joins=[{"kind": "gap", "at_s": 4.0, "change_db": 0.0}])
    assert desk_page(cast.director, turn).panel is None
    prefer_readings_first(cast.director, True)
    rate(cast.director, turn, {"rhythm": "4"})
    assert [jump.asks for jump in desk_page(cast.director, turn).panel.jumps] == [False]


def test_beside_a_noisy_take_nothing_is_asked(cast, turn):
    heard(turn, early=(6, 7, 8), verdicts=["There is noise."])
    assert [jump.asks for jump in panel_of(cast, turn, rhythm="4").jumps] == [False]


def test_a_passage_moved_since_gives_places_no_time_and_asks_nothing(cast, turn):
    report = heard(turn, early=(6, 7, 8))
    report.body["notes"].append(note(11))
    report.save()
    (jump,) = panel_of(cast, turn, rhythm="4").jumps
    assert (jump.from_s, jump.key) == (None, "")


def test_on_paper_and_without_a_report_there_is_no_jump(cast, turn):
    assert panel_of(cast, turn, rhythm="4").jumps == ()
    CheckPassage.objects.update(notation_digest="")
    heard(turn, early=(6, 7, 8))
    assert desk_page(cast.director, turn).panel.jumps == ()


def test_joins_are_questions_to_the_director_and_never_told_to_the_musician(cast, turn):
    heard(turn, joins=[{"kind": "step", "at_s": 4.0, "change_db": -15.0}])
    words = [jump.words for jump in panel_of(cast, turn).jumps if jump.asks]
    assert words == [
        "At 0:04 the room gets quieter at once. A phone may do that. Was it moved, or paused?"
    ]
    told = heard_take(turn, turn.takes.get())
    assert not [one for one in (*told.verdicts, *told.places) if "0:04" in one]


@pytest.mark.parametrize("outcome", ["missing", "other_pitch"])
def test_where_no_place_stands_out_a_note_that_went_otherwise_is_still_spoken_of(
    cast, turn, outcome
):
    report = heard(turn, spots=())
    assert heard_take(turn, turn.takes.get()).places == (NO_PLACE,)
    report.body["notes"][3] = note(3, outcome=outcome, midi_heard=None, deviation_cents=None)
    report.save()
    told = heard_take(turn, turn.takes.get())
    assert told.places == (NO_PLACE_ASKED,) and told.marked


def test_the_page_offers_each_jump_as_a_link_into_the_sound_that_works_without_scripts(
    client, cast, turn
):
    heard(turn, early=(6, 7, 8))
    panel_of(cast, turn, rhythm="4")
    sign_in(client, cast.director)
    page = client.get(reverse("desk-turn", args=[turn.check_row_id, turn.pk])).content.decode()
    links = re.findall(r'href="([^"]*#t=[\d.]+)"[^>]*data-jump data-key="(\w)"', page)
    sound = reverse("take-sound", args=[turn.takes.get().key])
    assert links == [(f"{sound}#t=5.10", "u"), (f"{sound}#t=5.10", "i")]
    assert page.count("data-heard") == 1


def test_no_jump_has_a_key_that_the_desk_or_its_player_uses():
    static = Path(standlight.web.__file__).parent / "static"
    used = set(LEVEL_KEYS.values()) | set("abcts")
    for script in ("desk.js", "player.js"):
        text = (static / script).read_text()
        used |= set(re.findall(r'event\.key === "(.)"', text))
        used |= set(re.findall(r'^\s+"?([^"\s])"?: (?:\(\) =>|\w+,$)', text, flags=re.M))
    assert {"w", " ", "l", "e", "["} <= used
    assert not used & set(JUMP_KEYS)


@pytest.mark.parametrize(
    ("instrument", "tolerance_ms", "sung"),
    [("Clarinet in Bb", 50.0, False), ("Violin", 70.0, False), ("Soprano", 100.0, True)],
)
def test_a_part_is_asked_about_on_the_terms_its_kind_of_sound_was_heard_on(
    cast, turn, instrument, tolerance_ms, sung
):
    assert instrument in INSTRUMENTS
    passage = passage_of(turn)
    passage.part.instrument = instrument
    terms = heard_on(OfTake(turn.check_row, seat_in(turn), passage, None))
    assert (terms.onset_tolerance_ms, terms.sung) == (tolerance_ms, sung)
    assert terms.marked_tempo_qpm == 96
