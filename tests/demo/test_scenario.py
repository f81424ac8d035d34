"""The invented year keeps the rules that were set for it, whatever the day it is opened."""

from collections import Counter
from datetime import date, datetime, timedelta

import pytest

from standlight.criteria import CRITERIA
from standlight.demo.cast import BAND_AND_CHOIR, SHOWN_MUSICIAN, SPECIAL_TAKES
from standlight.demo.faults import Faults, Trouble
from standlight.demo.manner import Manner, as_json, faults_for, from_json
from standlight.demo.scenario import scenario

DAYS = (date(2026, 11, 25), date(2026, 11, 29), date(2027, 1, 3), date(2027, 2, 28))


@pytest.fixture(params=DAYS, ids=str)
def year(request):
    return scenario(request.param)


def asked_and_missing(year):
    """Every (check, musician) asked of work already due, and those with nothing sent.

    Live-only musicians are still to be heard at the stand, so nothing of theirs is missing.
    """
    asked, missing = [], []
    done = {(turn.check, turn.roster_id) for turn in year.turns}
    for check in year.checks:
        if check.due_on >= year.today:
            continue
        for musician, seat in year.members(check.group):
            here = seat.joined_on is None or seat.joined_on <= check.due_on
            if musician.way == "neither" or not here:
                continue
            pair = (check.key, musician.roster_id)
            if musician.way == "live_only" and pair not in done:
                continue
            asked.append(pair)
            if pair not in done:
                missing.append(pair)
    return asked, missing


def test_twelve_to_fifteen_percent_of_the_work_that_was_due_is_missing(year):
    asked, missing = asked_and_missing(year)
    assert len(asked) > 200
    assert 0.12 <= len(missing) / len(asked) <= 0.15


def test_the_concert_is_sixteen_days_off(year):
    assert year.concert_on - year.today == timedelta(days=16)


def test_three_groups_have_about_160_musicians_and_one_of_them_sits_in_two(year):
    assert [group.kind for group in year.groups] == ["band", "choir", "strings"]
    assert [group.period for group in year.groups] == [3, 5, 7]
    assert 155 <= len(year.musicians) <= 165
    doubled = [m for m in year.musicians if len(m.seats) > 1]
    assert [[seat.group for seat in m.seats] for m in doubled] == [["band", "choir"]]
    assert doubled[0].seats[1].section == BAND_AND_CHOIR[1][1]
    for group in year.groups:
        sizes = Counter(seat.section for _, seat in year.members(group.key))
        assert sizes == {section.name: section.size for section in group.sections}


def test_exactly_two_are_live_only_one_is_neither_and_one_joined_late(year):
    ways = Counter(m.way for m in year.musicians)
    assert (ways["live_only"], ways["neither"]) == (2, 1)
    late = [seat for m in year.musicians for seat in m.seats if seat.joined_on]
    assert [year.today - seat.joined_on for seat in late] == [timedelta(days=9)]


def test_roster_ids_and_full_names_are_unique(year):
    assert len({m.roster_id for m in year.musicians}) == len(year.musicians)
    assert len({(m.given_name, m.family_name) for m in year.musicians}) == len(year.musicians)


def test_both_pairs_who_share_a_family_name_are_there(year):
    seats = {(m.given_name, m.family_name): m.seats[0] for m in year.musicians}
    assert seats["Maya", "Tran"].section == seats["Mina", "Tran"].section == "Clarinet"
    assert seats["Jonas", "Okafor"].group != seats["Imani", "Okafor"].group


def test_voices_that_change_carry_their_comfortable_range(year):
    changing = [s for m in year.musicians for s in m.seats if s.voice_changing]
    assert len(changing) == 5
    assert all(seat.comfort_midi and seat.group == "choir" for seat in changing)


def test_an_accommodation_says_what_to_do_and_never_why(year):
    told = " ".join(m.accommodation + m.changed_goal for m in year.musicians).lower()
    assert "may take the passage at 60, in a room of their own" in told
    reasons = ("because", "diagnos", "disorder", "adhd", "dyslexi", "autis", "anxi", "iep", "504")
    assert not [word for word in reasons if word in told]


def test_takes_with_a_story_have_been_sent_and_wait(year):
    sent = {(turn.check, turn.roster_id): turn for turn in year.turns if turn.manner}
    second = {"band": "band_second", "strings": "strings_second"}
    for (group, section, place), change in SPECIAL_TAKES.items():
        member = [m for m, seat in year.members(group) if seat.section == section][place]
        turn = sent[second[group], member.roster_id]
        assert all(getattr(turn.manner, name) == value for name, value in change.items())
        assert not turn.levels


def test_the_musician_whose_sign_in_is_printed_has_an_answer_and_something_to_send(year):
    group, section, place = SHOWN_MUSICIAN
    shown = [m for m, seat in year.members(group) if seat.section == section][place]
    turns = {t.check: t for t in year.turns if t.roster_id == shown.roster_id}
    assert shown.way == "record"
    assert turns["strings_first"].answer
    assert "strings_second" not in turns
    assert next(c for c in year.checks if c.key == "strings_second").due_on > year.today


def test_what_everybody_fears_is_spoken_of_and_the_measured_trouble_is_not(year):
    remarks = [r for r in year.remarks if r.piece == "lantern_walk" and r.author.startswith("Q")]
    assert len(remarks) >= 8
    assert {(r.first_measure, r.last_measure) for r in remarks} == {(12, 13)}
    takes = [t for t in year.turns if t.check == "band_second" and t.manner]
    troubled = [t for t in takes if any(x.first_measure == 10 for x in t.manner.troubles)]
    assert len(troubled) > 0.6 * len(takes)
    feared = [x for t in takes for x in t.manner.troubles if x.last_measure >= 12]
    assert len(feared) == len(takes)
    assert all(x.spread_ms < 0 and x.spread_cents < 0 for x in feared)


def test_nothing_has_happened_after_today_and_answers_follow_what_was_sent(year):
    midnight = datetime.combine(year.today, datetime.min.time())
    checks = {check.key: check for check in year.checks}
    for turn in year.turns:
        if turn.sent_at is None:
            assert turn.excused
            continue
        assert checks[turn.check].published_at < turn.sent_at < midnight
        if turn.levels:
            assert turn.sent_at < turn.rated_at < midnight
    assert all(remark.made_at < midnight for remark in year.remarks)


def test_some_work_is_answered_and_some_waits_in_every_group(year):
    for group in year.groups:
        keys = {check.key for check in year.checks if check.group == group.key}
        turns = [t for t in year.turns if t.check in keys and t.sent_at]
        answered = [t for t in turns if t.answer]
        assert len(answered) >= 20
        assert len(turns) - len(answered) >= 20
        assert all(t.levels and t.answer.next_step for t in answered)


def test_levels_are_of_the_checks_criteria_and_criteria_are_of_the_table(year):
    checks = {check.key: check for check in year.checks}
    for check in year.checks:
        assert 3 <= len(check.criteria) <= 5
        assert set(check.criteria) <= set(CRITERIA)
    for turn in year.turns:
        if turn.levels:
            assert tuple(key for key, _ in turn.levels) == checks[turn.check].criteria
            assert {value for _, value in turn.levels} <= {"1", "2", "3", "4"}


def test_the_bank_has_a_line_for_each_criterion_place_and_level(year):
    lines = Counter((c.criterion, c.place, c.level) for c in year.comments)
    wanted = {
        (criterion, place, level)
        for criterion in CRITERIA
        for place in ("strength", "next_step", "strategy")
        for level in (1, 2, 3, 4)
    }
    assert set(lines) == wanted
    assert set(lines.values()) == {1}


def test_the_same_day_and_seed_give_the_same_year_and_another_seed_another():
    day = DAYS[0]
    assert scenario(day) == scenario(day)
    assert scenario(day, seed=1).turns != scenario(day, seed=2).turns


def test_only_dates_move_from_day_to_day():
    first, second = scenario(DAYS[0]), scenario(DAYS[1])
    assert first.musicians[0].given_name == second.musicians[0].given_name
    assert [t.manner for t in first.turns] == [t.manner for t in second.turns]


def test_a_manner_comes_back_from_json_and_gives_the_same_faults_each_time():
    year = scenario(DAYS[0])
    manner = next(t.manner for t in year.turns if t.manner and t.manner.troubles)
    assert from_json(as_json(manner)) == manner
    notes = line_of(20)
    first, again = (faults_for(manner, notes, 8) for _ in range(2))
    assert first == again
    assert isinstance(first, Faults)
    assert (first.troubles[0].first_measure, first.troubles[0].last_measure) == (2, 3)


def test_counts_of_slips_become_slips_on_different_notes_never_the_first():
    manner = Manner(seed=4, wrong=3, skipped=2, added=2, hesitations=2, restarts=1)
    faults = faults_for(manner, line_of(30), 0)
    places = [i for i, _ in faults.wrong] + list(faults.skipped) + [i for i, _ in faults.added]
    places += [i for i, _ in faults.hesitations]
    assert len(set(places)) == len(places) == 9
    assert 0 not in places
    assert len(faults.restarts) == 1


def test_no_slip_falls_into_measures_that_were_practiced():
    manner = Manner(seed=4, wrong=6, skipped=4, troubles=(Trouble(2, 3, spread_ms=-20.0),))
    faults = faults_for(manner, line_of(30), 0)
    places = [i for i, _ in faults.wrong] + list(faults.skipped)
    assert len(places) == 10
    assert not [i for i in places if 8 <= i < 16]


def line_of(count):
    from fractions import Fraction

    from standlight.music import Note

    return [Note(Fraction(i), Fraction(1), 60 + i % 5, i // 4) for i in range(count)]
