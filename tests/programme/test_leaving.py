"""A musician who is removed is gone with all they made; what others need stays."""

import pytest
from axes.models import AccessLog
from django.apps import apps
from django.db.models import CASCADE, PROTECT, SET_NULL, JSONField

from standlight.errors import NotAllowed, StandlightError
from standlight.listening import ListeningReport
from standlight.programme import pieces, store
from standlight.programme.actions.answers import keep_voice, send_answer
from standlight.programme.actions.calibration import agree_on, begin_calibration
from standlight.programme.actions.desk import rate
from standlight.programme.actions.hearing import keep_report
from standlight.programme.actions.leaving import forget_musician
from standlight.programme.models import (
    Account,
    Arrival,
    Calibration,
    CheckPassage,
    DeskSitting,
    GivenLevel,
    LongRecording,
    MarkExport,
    MarkingPeriod,
    Musician,
    OwnVersion,
    PeriodMarks,
    PostedMark,
    RatingsStudy,
    Remark,
    Report,
    Sheet,
    SheetSound,
    StudyErrand,
    Take,
    Turn,
)
from standlight.programme.queries.answer_values import AnswerDraft
from tests.programme.desk_scene import ALL_THREE, make_scene, send
from tests.programme.sheet_scene import EVERYTHING, WHOLE, give, write
from tests.programme.study_scene import make_study
from tests.web.scene import wav

pytestmark = pytest.mark.django_db(transaction=True)

HANDLED = {
    "Arrival.musician": "forgotten with its sound",
    "Remark.turn": "deleted",
    "Answer.voice": "of the same turn",
    "KeptAnswer.voice": "of the same turn",
    "EarlierAnswer.voice": "of the same turn",
    "OwnVersion.asked_by": "goes with the musician before the account",
    "TalkStep.done_said_by": "goes with the musician's own talk; of another's it is a director",
}
"""Relations of what a musician makes that do not cascade, and what becomes of their rows."""

DIRECTORS_ONLY = {
    "GroupWish.made_by", "Grouping.made_by", "Talk.held_by", "TalkRuleOff.set_by",
    "TalkRuleRest.set_by",
    "AnchorTake.agreed_by", "Answer.written_by", "AnswerSound.made_by", "Assignment.made_by",
    "EarlierAnswer.written_by", "GivenLevel.rater", "GuestLink.made_by", "HeardAgain.heard_by",
    "KeptAnswer.written_by", "KindEdition.made_by", "MarkChange.changed_by",
    "MarkExport.exported_by", "PeerLine.decided_by", "PeerRound.asked_by",
    "PeriodMarks.closed_by", "PlannedRehearsal.made_by", "PlayingCheck.made_by",
    "Reply.written_by", "Sheet.opened_by", "SheetLevel.rater", "WorkExcuse.given_by",
}  # fmt: skip
"""Relations to an account that no musician's account is ever written into."""

NAMES_BY_NUMBER = {"Calibration.takes", "DeskSitting.again", "MarkExport.told", "RatingsStudy.body"}
"""Plain data in rows of others that names a musician or a turn by number: taken out by hand."""

NAMES_NOBODY = {
    "Assignment.rules", "CheckPassage.alternatives", "CheckPassage.shows", "KindEdition.body",
    "PeriodMarks.columns", "PeriodMarks.sentences", "PeriodMarks.terms", "Piece.measures",
    "PeerRound.criteria", "Piece.remarks", "PlayingCheck.criteria", "EditedTable.rows",
    "PlannedBlock.idle", "PlannedBlock.why", "PlannedRehearsal.order", "PlannedRehearsal.told",
    "PlannedRehearsal.wishes", "SeasonPlan.terms",
}  # fmt: skip
"""Plain data in rows of others that names no musician."""


def ours():
    return list(apps.get_app_config("programme").get_models())


def label(field):
    return f"{field.model.__name__}.{field.name}"


def pointing_at(model):
    """Relations of other rows to ``model``, those without a name of their own too."""
    return [
        field
        for field in model._meta.get_fields(include_hidden=True)
        if field.auto_created and not field.concrete and (field.one_to_many or field.one_to_one)
    ]


def gone_with_a_musician():
    """Models whose rows go with a musician's row or their account's; relations that do not."""
    found, open_ends, waiting = set(), set(), [Musician, Account]
    while waiting:
        model = waiting.pop()
        if model in found:
            continue
        found.add(model)
        for relation in pointing_at(model):
            if relation.on_delete is CASCADE:
                waiting.append(relation.related_model)
            else:
                assert relation.on_delete in (PROTECT, SET_NULL)
                open_ends.add(label(relation.field))
    return found, open_ends


def test_every_relation_to_what_a_musician_makes_cascades_or_is_handled_by_name():
    found, open_ends = gone_with_a_musician()
    assert {Turn, Take, Sheet, SheetSound, PostedMark} <= found
    assert open_ends == set(HANDLED) | DIRECTORS_ONLY


def test_every_plain_field_that_could_name_a_musician_has_been_looked_at():
    theirs = {Musician, Turn, Sheet}
    waiting = list(theirs)
    while waiting:
        for relation in pointing_at(waiting.pop()):
            model = relation.related_model
            if relation.on_delete is CASCADE and model not in theirs:
                theirs.add(model)
                waiting.append(model)
    plain = {
        label(field)
        for model in ours()
        if model not in theirs
        for field in model._meta.get_fields()
        if isinstance(field, JSONField)
    }
    assert plain == NAMES_BY_NUMBER | NAMES_NOBODY


@pytest.fixture
def made(cast):
    """A musician with something of nearly everything, and another who shares one file."""
    scene = make_scene(cast)
    turn, other = send(scene, cast.musician), send(scene, cast.second_musician)
    own, shared = store.keep(b"own take"), store.keep(b"shared copy")
    turn.takes.update(digest=own, playback_digest=shared)
    other.takes.update(digest=shared, playback_digest="")
    on_its_way = Take.objects.create(turn=turn, number=2)
    pieces.put(on_its_way.key, 0, b"a second of it")
    for one in (turn, other):
        rate(cast.director, one, ALL_THREE)
        agree_on(cast.director, one, ALL_THREE, "The ends ring")
    voice = keep_voice(cast.director, turn, wav())
    send_answer(cast.director, turn, AnswerDraft(next_step="Breathe", voice=str(voice.key)))
    Remark.objects.create(
        piece=scene.piece, turn=turn, author=cast.director, first_measure=0, last_measure=1,
        words="late here",
    )  # fmt: skip
    sheet = write(cast, give(cast, EVERYTHING), WHOLE)
    said = store.keep(b"said in a sheet")
    SheetSound.objects.create(sheet=sheet, question="recording", digest=said)
    OwnVersion.objects.create(
        passage=CheckPassage.objects.filter(part__isnull=False).first(), musician=cast.musician,
        semitones=-12, notation_digest="2" * 64, asked_by=cast.musician.account,
    )  # fmt: skip
    brought, long = store.keep(b"brought in"), store.keep(b"long one")
    one_long = LongRecording.objects.create(
        check_row=scene.check, brought_by=cast.director, file_name="l", digest="d",
        copy_digest=long, seconds=9.0,
    )  # fmt: skip
    for more in ({"digest": brought}, {"recording": one_long, "start_s": 0.0, "end_s": 2.0}):
        Arrival.objects.create(
            check_row=scene.check, brought_by=cast.director, seconds=2.0,
            musician=cast.musician, chosen=True, **more,
        )  # fmt: skip
    marks = PeriodMarks.objects.create(
        ensemble=cast.band,
        period=MarkingPeriod.objects.create(
            programme=cast.programme, name="One", starts_on="2026-09-01", ends_on="2026-12-01"
        ),
    )
    told = {str(cast.musician.pk): "Secure", str(cast.second_musician.pk): "Secure"}
    MarkExport.objects.create(
        marks=marks, form="csv", exported_at=turn.sent_at, exported_by=cast.director, told=told,
        n_rows=2,
    )  # fmt: skip
    PostedMark.objects.create(
        marks=marks, musician=cast.musician, word="Secure", body={}, posted_at=turn.sent_at
    )
    DeskSitting.objects.create(
        account=cast.second_director, check_row=scene.check, again=[[turn.pk, 3], [other.pk, 5]]
    )
    begin_calibration(cast.director, scene.check)
    Calibration.objects.create(
        account=cast.second_director, check_row=scene.check, done_at=turn.sent_at,
        takes=[{"turn": pk, "agreed": {}, "given": {"rhythm": "3"}} for pk in (turn.pk, other.pk)],
    )  # fmt: skip
    make_study(cast.programme)
    AccessLog.objects.create(username=cast.musician.account.sign_in)
    theirs = {own, voice.digest, said, brought, long}
    return {"turn": turn, "other": other, "theirs": theirs, "shared": shared, "take": on_its_way}


def test_everything_of_the_musician_goes_and_their_files_leave_the_store(cast, made):
    owner = cast.musician.account
    assert all(store.path_of(digest).exists() for digest in made["theirs"])
    forget_musician(cast.director, cast.musician, " 1001 ")
    assert not Musician.objects.filter(roster_id="1001", programme=cast.programme).exists()
    assert not Account.objects.filter(pk=owner.pk).exists()
    assert not any(store.path_of(digest).exists() for digest in made["theirs"])
    assert pieces.bytes_so_far(made["take"].key) == 0
    assert list(Turn.objects.all()) == [made["other"]]
    for model in (Sheet, SheetSound, OwnVersion, Arrival, LongRecording, PostedMark, Remark):
        assert not model.objects.exists(), model
    assert not AccessLog.objects.filter(username=owner.sign_in).exists()


def test_what_another_musician_needs_stays(cast, made):
    forget_musician(cast.director, cast.musician, "1001")
    other = made["other"]
    assert store.fetch(made["shared"]) == b"shared copy"
    assert other.takes.get().digest == made["shared"]
    assert GivenLevel.objects.filter(turn=other).count() == len(ALL_THREE)
    assert MarkExport.objects.get().told == {str(cast.second_musician.pk): "Secure"}
    assert DeskSitting.objects.get(account=cast.second_director).again == [[other.pk, 5]]
    assert [row["turn"] for row in Calibration.objects.get().takes] == [other.pk]


def test_a_long_recording_with_other_parts_waiting_stays(cast, made):
    long = LongRecording.objects.get()
    Arrival.objects.create(
        check_row=long.check_row, brought_by=cast.director, recording=long, start_s=2.0,
        end_s=4.0, seconds=2.0, musician=cast.second_musician,
    )  # fmt: skip
    forget_musician(cast.director, cast.musician, "1001")
    assert [row.start_s for row in long.spans.all()] == [2.0]
    assert store.fetch(long.copy_digest) == b"long one"


def test_the_study_is_thrown_away_and_asked_for_again(cast, made):
    StudyErrand.objects.filter(programme=cast.programme).update(asked_at=None)
    forget_musician(cast.director, cast.musician, "1001")
    assert not RatingsStudy.objects.exists()
    assert StudyErrand.objects.get(programme=cast.programme).asked_at is not None


def test_a_take_that_was_being_heard_meanwhile_leaves_nothing_behind(
    cast, made, settings, monkeypatch
):
    copies, keep = [], store.keep
    monkeypatch.setattr(store, "keep", lambda data: copies.append(keep(data)) or copies[-1])
    take = made["turn"].takes.get(number=1)
    forget_musician(cast.director, cast.musician, "1001")
    kept = {file for file in settings.STANDLIGHT_FILES.rglob("*") if file.is_file()}
    keep_report(take.key, ListeningReport("now", 0.0, 0.5), wav())
    assert copies, "a copy was made, so there was something to leave behind"
    assert not Report.objects.filter(take_id=take.key).exists()
    assert {file for file in settings.STANDLIGHT_FILES.rglob("*") if file.is_file()} == kept


@pytest.mark.parametrize("typed", ["", "1002", "10 01", "Mina Okafor"])
def test_a_wrong_roster_id_changes_nothing(cast, made, typed):
    with pytest.raises(StandlightError, match="nothing was removed"):
        forget_musician(cast.director, cast.musician, typed)
    assert Turn.objects.count() == 2
    assert all(store.path_of(digest).exists() for digest in made["theirs"])


def test_only_who_directs_all_their_groups_may_remove_them(cast, made):
    for account, musician in (
        (cast.outsider_director, cast.musician),
        (cast.musician.account, cast.musician),
        (cast.second_director, cast.singer),
    ):
        with pytest.raises(NotAllowed):
            forget_musician(account, musician, musician.roster_id)
    cast.musician.seats.create(section=cast.sopranos, left_on="2026-10-01")
    with pytest.raises(NotAllowed, match="Mixed Choir"):
        forget_musician(cast.second_director, cast.musician, "1001")
    forget_musician(cast.director, cast.musician, "1001")
    assert list(Turn.objects.all()) == [made["other"]]
