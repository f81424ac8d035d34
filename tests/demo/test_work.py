"""The demo's written work: all kinds, complete where it was sent, nobody's words like another's."""

from collections import Counter, defaultdict
from datetime import date, datetime, timedelta

import pytest

from standlight.demo.cast import SHOWN_MUSICIAN
from standlight.demo.scenario import scenario
from standlight.demo.work_plan import work
from standlight.kinds import KINDS, columns_of, is_blank, narrowed, rules_of, standing_of, text_of
from standlight.kinds.field_types import PLACE_PARTS

DAYS = (date(2026, 11, 25), date(2026, 11, 29), date(2027, 2, 28))

UNSAFE = (
    "hate my", "die", "dead", "kill", "hurt", "alone at home", "divorce", "church", "pray",
    "doctor", "medicine", "therap", "diagnos", "anxi", "boyfriend", "girlfriend", "crush",
    "money", "police", "lorem", "ipsum",
)  # fmt: skip
"""Pieces of words that have no place in a demo of children's writing."""


@pytest.fixture(scope="module", params=DAYS, ids=str)
def year(request):
    return scenario(request.param)


@pytest.fixture(scope="module")
def done(year):
    return work(year)


def by_key(done):
    return {given.key: given for given in done.given}


def step_of(given, sheet):
    """The step of the sheet, as its assignment asks it."""
    step = next(one for one in KINDS[given.kind].steps if one.key == sheet.step)
    return narrowed(step, rules_of(given.rules.get(step.key) or {}, step))


def texts(step, answers):
    """Every answer of the sheet in which somebody typed words, as text."""
    for field in step.fields:
        if field.type in ("short", "long") and isinstance(answers.get(field.key), str):
            yield answers[field.key]
        for row in answers.get(field.key) or () if field.type == "rows" else ():
            for column in columns_of(field):
                if column.type in ("short", "long") and row.get(column.key):
                    yield row[column.key]
        if field.type == "spot" and not is_blank(answers.get(field.key)):
            told = {k: v for k, v in answers[field.key].items() if k not in PLACE_PARTS}
            yield " ".join(map(str, told.values()))


def test_every_kind_has_been_given_out_and_answered_by_many(done):
    given = by_key(done)
    sent = Counter(given[sheet.given].kind for sheet in done.sheets if sheet.sent_at)
    assert set(sent) == set(KINDS)
    assert {kind for kind, count in sent.items() if count < 25} <= {"year_reflection"}


def test_what_was_sent_is_complete_and_what_is_begun_is_not(done):
    given = by_key(done)
    begun = 0
    for sheet in done.sheets:
        step = step_of(given[sheet.given], sheet)
        assert set(sheet.answers) <= {field.key for field in step.fields}, sheet
        standing = standing_of(step, sheet.answers)
        if sheet.sent_at is None:
            begun += 1
            assert standing.open
        elif sheet.about == sheet.author or not sheet.about:
            assert standing.complete, (sheet, standing)
        else:  # what a director saw of somebody need not be complete
            assert not standing.wrong
    assert begun >= 12


def test_a_stack_does_not_repeat_itself(done):
    given = by_key(done)
    said, whole = defaultdict(Counter), defaultdict(list)
    for sheet in done.sheets:
        if sheet.sent_at and sheet.author == sheet.about:
            kind, step = given[sheet.given].kind, step_of(given[sheet.given], sheet)
            # However a hand writes them, the same words count as the same.
            lines = [text.lower().rstrip(".") for text in texts(step, sheet.answers)]
            said[kind].update(part for text in lines for part in text.split(". "))
            whole[sheet.given, sheet.step].append(str(sorted(sheet.answers.items(), key=str)))
    assert {kind for kind in KINDS if len(said[kind]) < 30} == set()
    for stack, answers in whole.items():
        assert len(set(answers)) >= 0.85 * len(answers), stack


def test_words_are_plain_and_nothing_in_them_is_private_or_worrying(done):
    given = by_key(done)
    for sheet in done.sheets:
        for text in texts(step_of(given[sheet.given], sheet), sheet.answers):
            lowered = f" {text.lower()} "
            assert not [word for word in UNSAFE if f" {word}" in lowered], text
            assert len(text) < 1200


def test_hands_differ(done):
    given = by_key(done)
    small = Counter()
    for sheet in done.sheets:
        for text in texts(step_of(given[sheet.given], sheet), sheet.answers):
            if " I " in f" {text} " or " i " in f" {text} ":
                small[" i " in f" {text} "] += 1
    assert small[True] > 50
    assert small[False] > small[True]


def test_nothing_happened_after_today_and_acts_follow_each_other(year, done):
    midnight = datetime.combine(year.today, datetime.min.time())
    given = by_key(done)
    steps = {kind: [step.key for step in KINDS[kind].steps] for kind in KINDS}
    for sheet in done.sheets:
        opened_on = year.today + timedelta(given[sheet.given].starts_in)
        assert opened_on <= sheet.saved_at.date()
        assert sheet.saved_at < midnight
        assert sheet.sent_at in (None, sheet.saved_at)
        if sheet.opened_at:
            assert sheet.sent_at < sheet.opened_at < midnight
        assert not (sheet.reply and not sheet.opened_at)
        assert not (sheet.on_wall and not sheet.answers.get("share"))
    first = defaultdict(dict)
    for sheet in done.sheets:
        if sheet.sent_at and sheet.author == sheet.about:
            at = first[sheet.given, sheet.author].setdefault(sheet.step, sheet.sent_at)
            first[sheet.given, sheet.author][sheet.step] = min(at, sheet.sent_at)
    for (key, _), times in first.items():
        order = [step for step in steps[given[key].kind] if step in times]
        days = [times[step].date() for step in order]
        assert days == sorted(days), (key, times)


def test_there_is_everything_a_director_can_meet(year, done):
    sheets = defaultdict(list)
    for sheet in done.sheets:
        sheets[sheet.given].append(sheet)
    stacks = {
        given.key: [s for s in sheets[given.key] if s.sent_at and s.author == s.about]
        for given in done.given
    }
    unopened = {
        key for key, stack in stacks.items() if stack and not any(s.opened_at for s in stack)
    }
    assert unopened == {"choir_reflection"}
    assert any(all(s.opened_at for s in stack) for stack in stacks.values() if stack)
    assert any(given.laid_open_in is not None for given in done.given)
    assert sum(s.on_wall for stack in stacks.values() for s in stack) >= 20
    assert sum(1 for s in done.sheets if s.about and s.author != s.about) == 16
    own = {(s.given, s.step) for s in done.sheets if not s.about}
    assert own == {(given.key, step) for given in done.given for step in given.own}
    soon = [g for g in done.given if g.due_in is not None and 0 < g.due_in <= 7]
    assert len(soon) >= 3
    assert {excuse.reason for excuse in done.excuses} == {"absent", "excused"}
    assert any(excuse.until and excuse.until > year.today for excuse in done.excuses)


def test_the_musician_whose_sign_in_is_printed_has_a_year_to_look_at(year, done):
    group, section, place = SHOWN_MUSICIAN
    shown = [m for m, seat in year.members(group) if seat.section == section][place].roster_id
    mine = [sheet for sheet in done.sheets if sheet.author == shown]
    unread = [s for s in mine if s.reply and s.reply.seen_at is None]
    assert [(s.given, s.step, s.number) for s in unread] == [("strings_project", "check_in", 1)]
    assert {s.step for s in mine if s.given == "strings_project"} == {"goal", "first", "check_in"}
    assert sum(s.given == "strings_finds" for s in mine) == 3
    assert not [s for s in mine if s.given in ("strings_remarks_4", "strings_year")]
    open_now = {g.key: g for g in done.given if g.group == group and (g.due_in or 0) >= 0}
    assert section in open_now["strings_remarks_4"].sections


def test_the_same_day_and_seed_give_the_same_work(year, done):
    assert work(year) == done
    assert work(year, seed=5) != done


def test_texts_of_all_answers_can_be_read(done):
    given = by_key(done)
    for sheet in done.sheets:
        step = step_of(given[sheet.given], sheet)
        for field in step.fields:
            if not is_blank(sheet.answers.get(field.key)):
                assert text_of(field, sheet.answers[field.key])


def test_nobody_speaks_of_the_own_section_as_of_others(year, done):
    sections = {
        (seat.group, m.roster_id): seat.section.lower() for m in year.musicians for seat in m.seats
    }
    given = by_key(done)
    spoken = 0
    for sheet in done.sheets:
        one = given[sheet.given]
        if one.kind != "concert_reflection":
            continue
        section = sections[one.group, sheet.author]
        for text in texts(step_of(one, sheet), sheet.answers):
            spoken += any(other in text.lower() for other in ("alto", "tenor", "bass", "soprano"))
            assert section not in text.lower(), (section, text)
    assert spoken > 3
