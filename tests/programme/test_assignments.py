"""Work given out: what fits, who may, and the different words for who has not sent."""

import datetime
from dataclasses import replace

import pytest
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.kinds import KINDS, data_of
from standlight.programme import store
from standlight.programme.actions.assignments import (
    Giving,
    ask_again,
    excuse,
    give_out,
    lay_open,
    move_due,
    next_sections,
    publish,
    take_back,
    throw_away,
)
from standlight.programme.actions.kinds import keep_kind, put_away
from standlight.programme.models import Assignment, Piece, Reply, Seat, Sheet, WorkExcuse
from standlight.programme.queries.assignments import WORDS, work_standing, work_standings
from tests.cast import add_musician
from tests.web.scene import wav

pytestmark = pytest.mark.django_db

TODAY = datetime.date(2026, 11, 2)
DAY = datetime.timedelta(1)

BANK = {
    "key": "bank", "name": "Bank", "aim": "Answer some of many.", "process": ["respond"],
    "seen_by": ["owner", "director", "second_adult"],
    "steps": [
        {
            "key": "write", "name": "Write", "due": {"moment": "any"},
            "fields": [
                {"key": key, "type": "short", "prompt": f"What of {key}?"} for key in "abcd"
            ],
            "choices": [{"key": "some", "prompt": "Some", "of": list("abcd"), "least": 2}],
        }
    ],
}  # fmt: skip


@pytest.fixture
def giving(cast):
    return Giving(
        ensemble_pk=cast.band.pk, kind_key="finds", title="Finds this winter",
        starts_on=TODAY, due_on=TODAY + 7 * DAY,
    )  # fmt: skip


@pytest.fixture
def given(cast, giving):
    made = give_out(cast.director, giving)
    publish(made)
    return made


def sheet(assignment, musician, *, sent=True, opened=False, step="find", **more):
    now = timezone.now()
    return Sheet.objects.create(
        assignment=assignment, author=musician.account, about=musician, step=step,
        sent_at=now if sent else None, opened_at=now if opened else None, **more,
    )  # fmt: skip


def states(assignment, today=TODAY):
    return {stand.name: stand.state for stand in work_standing(assignment, today)}


def test_what_is_given_out_is_a_draft_that_no_musician_sees_until_it_is_published(cast, giving):
    made = give_out(cast.director, giving)
    assert made.kind.key == "finds" and made.kind.programme == cast.programme
    assert not Assignment.objects.visible_to(cast.musician.account).exists()
    publish(made)
    published = made.published_at
    publish(made)
    assert made.published_at == published
    assert Assignment.objects.visible_to(cast.musician.account).get() == made
    assert not Assignment.objects.visible_to(cast.singer.account).exists()


def test_it_keeps_the_edition_it_was_given_out_with(cast, given):
    keep_kind(cast.director, {**data_of(KINDS["finds"]), "name": "Our finds"})
    given.refresh_from_db()
    assert given.kind.body["name"] == "Finds"


def test_sections_narrow_who_sees_it_and_who_is_asked(cast, giving):
    made = give_out(cast.director, replace(giving, section_pks=[cast.snares.pk]))
    publish(made)
    assert not Assignment.objects.visible_to(cast.musician.account).exists()
    assert states(made) == {"Theo Lindqvist": "open"}


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"title": " "}, "the title is empty"),
        ({"title": "x" * 121}, "the title has 121 characters"),
        ({"note": "x" * 200_000}, "has 200,000 characters"),
        ({"kind_key": "nothing"}, "there is no kind of work"),
        ({"due_on": TODAY - DAY}, "before it opens"),
        ({"section_pks": [999_999]}, "not in this ensemble"),
        ({"piece_pk": 999_999}, "not in the folder"),
        ({"rules": {"nowhere": {}}}, "has no step 'nowhere'"),
        ({"rules": {"find": {"required": ["nothing"]}}}, "has no question “nothing”"),
        ({"sound": b"not asked for"}, "takes no recording"),
    ],
)
def test_what_does_not_fit_is_said_and_nothing_is_kept(cast, giving, change, said):
    with pytest.raises(StandlightError, match=said):
        give_out(cast.director, replace(giving, **change))
    assert not Assignment.objects.exists()


def test_sections_and_pieces_of_another_group_do_not_fit(cast, giving):
    piece = Piece.objects.create(ensemble=cast.choir, title="Theirs")
    for change in ({"section_pks": [cast.sopranos.pk]}, {"piece_pk": piece.pk}):
        with pytest.raises(StandlightError):
            give_out(cast.director, replace(giving, **change))


def test_a_kind_that_is_put_away_is_not_given_out(cast, giving):
    put_away(cast.director, "finds")
    with pytest.raises(StandlightError, match="put away"):
        give_out(cast.director, giving)


def test_a_kind_brings_what_it_needs_its_piece_and_a_sound_or_a_live_hearing(cast, giving):
    keep_kind(cast.director, {**BANK, "needs": ["piece", "sound"]})
    asked = replace(giving, kind_key="bank")
    with pytest.raises(StandlightError, match="needs a piece"):
        give_out(cast.director, asked)
    piece = Piece.objects.create(ensemble=cast.band, title="Ode")
    live = give_out(cast.director, replace(asked, piece_pk=piece.pk))
    assert (live.piece, live.sound_digest) == (piece, "")
    own = give_out(
        cast.director, replace(asked, piece_pk=piece.pk, sound=wav(), sound_name="Ours, 2025")
    )
    assert store.fetch(own.sound_digest)[:4] == b"fLaC" and own.sound_name == "Ours, 2025"
    with pytest.raises(StandlightError):
        give_out(cast.director, replace(asked, piece_pk=piece.pk, sound=b"words, no sound"))


def test_rules_of_the_assignment_are_kept_as_the_forms_read_them(cast, giving):
    keep_kind(cast.director, BANK)
    rules = {"write": {"required": ["a"], "choices": {"some": [3, 4]}}}
    made = give_out(cast.director, replace(giving, kind_key="bank", rules=rules))
    assert Assignment.objects.get(pk=made.pk).rules == rules
    for numbers in ([5, None], [3, 2], ["three", 4]):
        with pytest.raises(StandlightError, match="“some”"):
            give_out(
                cast.director,
                replace(giving, kind_key="bank", rules={"write": {"choices": {"some": numbers}}}),
            )


def test_who_may_give_out_and_excuse(cast, giving, given):
    assert give_out(cast.second_director, giving).made_by == cast.second_director
    with pytest.raises(NotAllowed):
        give_out(cast.second_director, replace(giving, ensemble_pk=cast.choir.pk))
    for account in (cast.outsider_director, cast.musician.account, cast.outsider_musician.account):
        with pytest.raises(NotAllowed):
            give_out(account, giving)
        with pytest.raises(NotAllowed):
            excuse(account, given, cast.musician, "absent")
        with pytest.raises(NotAllowed):
            ask_again(account, given, cast.musician)
    with pytest.raises(NotAllowed, match="not in the ensemble"):
        excuse(cast.director, given, cast.singer, "absent")
    assert excuse(cast.second_director, given, cast.musician, "absent").reason == "absent"


def test_taken_back_only_while_no_musician_has_sent(cast, given):
    sheet(given, cast.musician, sent=False)
    take_back(given)
    assert given.published_at is None
    publish(given)
    Sheet.objects.update(sent_at=timezone.now())
    with pytest.raises(NotAllowed, match="already sent"):
        take_back(given)
    given.refresh_from_db()
    assert given.published_at is not None


def test_a_draft_goes_away_and_nothing_that_somebody_began(cast, giving, given):
    with pytest.raises(NotAllowed):
        throw_away(given)
    draft = give_out(cast.director, giving)
    sheet(draft, cast.musician, sent=False)
    with pytest.raises(NotAllowed):
        throw_away(draft)
    Sheet.objects.all().delete()
    throw_away(draft)
    assert Assignment.objects.get() == given


def test_laid_open_once_and_never_as_a_draft(cast, giving, given):
    lay_open(given)
    first = given.laid_open_at
    lay_open(given)
    assert given.laid_open_at == first
    with pytest.raises(NotAllowed, match="publish it first"):
        lay_open(give_out(cast.director, giving))


def test_the_states_are_different_words(cast, given):
    assert len(set(WORDS.values())) == len(WORDS) == 11
    name = cast.musician.name
    assert states(given, TODAY - DAY)[name] == "not_due"
    assert states(given)[name] == "open"
    assert states(given, given.due_on)[name] == "open"
    assert states(given, given.due_on + DAY)[name] == "missing"
    row = sheet(given, cast.musician, sent=False)
    assert states(given)[name] == "begun"
    assert states(given, given.due_on + DAY)[name] == "missing"
    row.sent_at = timezone.now()
    row.save()
    assert states(given, given.due_on + DAY)[name] == "sent"
    row.opened_at = timezone.now()
    row.save()
    assert states(given)[name] == "read"
    Reply.objects.create(sheet=row, words="Good ear.", written_by=cast.director)
    assert states(given)[name] == "answered"
    assert states(given)[cast.second_musician.name] == "open"


@pytest.mark.parametrize("reason", ["excused", "absent", "not_assessed"])
def test_an_excuse_is_its_own_word_until_something_is_sent_or_it_is_taken_back(
    cast, given, reason
):
    late = given.due_on + DAY
    excuse(cast.director, given, cast.musician, reason)
    assert states(given)[cast.musician.name] == states(given, late)[cast.musician.name] == reason
    ask_again(cast.director, given, cast.musician)
    assert states(given, late)[cast.musician.name] == "missing"
    excuse(cast.director, given, cast.musician, reason)
    sheet(given, cast.musician)
    assert states(given, late)[cast.musician.name] == "sent"


def test_extra_time_is_a_day_of_ones_own_and_missing_only_after_it(cast, given):
    later = given.due_on + 5 * DAY
    excuse(cast.director, given, cast.musician, "excused", later)
    mine, other = (
        {stand.name: stand for stand in work_standing(given, given.due_on + 2 * DAY)}[one.name]
        for one in (cast.musician, cast.second_musician)
    )
    assert (mine.state, mine.due_on, mine.own_day, mine.reason) == ("open", later, True, "excused")
    assert (other.state, other.due_on, other.own_day) == ("missing", given.due_on, False)
    assert states(given, later + DAY)[cast.musician.name] == "missing"
    excuse(cast.director, given, cast.musician, "absent")
    assert WorkExcuse.objects.get().until is None


def test_a_day_that_is_not_later_and_an_unknown_reason_are_refused(cast, given):
    for until in (given.due_on, given.due_on - DAY):
        with pytest.raises(StandlightError, match="no later day"):
            excuse(cast.director, given, cast.musician, "absent", until)
    with pytest.raises(StandlightError, match="is no reason"):
        excuse(cast.director, given, cast.musician, "lazy")
    move_due(given, None)
    with pytest.raises(StandlightError, match="has no due day"):
        excuse(cast.director, given, cast.musician, "absent", TODAY + 30 * DAY)


def test_who_joined_after_the_due_day_is_a_late_joiner_and_who_left_is_not_asked(cast, given):
    after = given.due_on + DAY
    late = add_musician(cast.programme, cast.clarinets, "1009", "Sol", "Reyes")
    Seat.objects.filter(musician=late).update(joined_on=after)
    gone = add_musician(cast.programme, cast.clarinets, "1010", "Uma", "Stone")
    Seat.objects.filter(musician=gone).update(left_on=TODAY)
    found = states(given, after)
    assert found["Sol Reyes"] == "late_joiner" and "Uma Stone" not in found
    sheet(given, late)
    sheet(given, gone)
    found = states(given, after)
    assert found["Sol Reyes"] == "sent" and found["Uma Stone"] == "sent"


def test_without_a_day_nothing_is_ever_missing(cast, given):
    move_due(given, None)
    assert states(given, TODAY + 300 * DAY)[cast.musician.name] == "open"
    with pytest.raises(StandlightError, match="before it opens"):
        move_due(given, TODAY - DAY)


def test_a_kind_of_several_sittings_is_missing_while_one_of_them_lacks(cast, giving):
    made = give_out(cast.director, replace(giving, kind_key="skill_project"))
    publish(made)
    sheet(made, cast.musician, step="goal", opened=True)
    stand = work_standing(made, TODAY)[0]
    asked = sum(step.least_times for step in KINDS["skill_project"].steps)
    assert (stand.state, stand.n_sent, stand.n_asked) == ("read", 1, asked)
    assert work_standing(made, made.due_on + DAY)[0].state == "missing"
    for number in range(1, 6):
        for step in ("first", "check_in", "last"):
            sheet(made, cast.musician, step=step, number=number)
    assert work_standing(made, made.due_on + DAY)[0].state == "sent"


def test_what_a_director_writes_about_a_musician_is_not_the_musicians(cast, given):
    Sheet.objects.create(
        assignment=given, author=cast.director, about=cast.musician, step="find",
        sent_at=timezone.now(),
    )  # fmt: skip
    assert states(given)[cast.musician.name] == "open"


def test_standing_asks_as_often_for_many_as_for_one(cast, giving, django_assert_num_queries):
    made = [give_out(cast.director, giving) for _ in range(4)]
    for number in range(20):
        add_musician(cast.programme, cast.clarinets, f"20{number}", "Ivo", f"Number {number}")
    rows = list(Assignment.objects.select_related("kind"))
    with django_assert_num_queries(4):
        found = work_standings(rows, TODAY)
    assert {len(found[one.pk]) for one in made} == {22}
    with django_assert_num_queries(4):
        mine = work_standings(rows, TODAY, cast.musician)
    assert {len(stands) for stands in mine.values()} == {1}


def test_the_next_sections_turn_is_a_draft_with_days_of_its_own_round_the_ensemble(
    cast, giving, monkeypatch
):
    monkeypatch.setattr(timezone, "localdate", lambda: TODAY)
    first = give_out(cast.director, replace(giving, section_pks=[cast.clarinets.pk]))
    second = next_sections(first)
    assert (second.starts_on, second.due_on) == (TODAY + 8 * DAY, TODAY + 15 * DAY)
    assert list(second.sections.all()) == [cast.snares] and second.published_at is None
    assert next_sections(first) == second
    third = next_sections(second)
    assert list(third.sections.all()) == [cast.clarinets]
    with pytest.raises(StandlightError, match="everyone was asked"):
        next_sections(give_out(cast.director, giving))
