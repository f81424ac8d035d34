"""Answers: kept and sent together, spoken, on their measures, translated; nothing is lost."""

import datetime
import io

import av
import numpy as np
import pytest
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.programme import store
from standlight.programme.actions.answers import (
    AnsweredMeanwhile,
    answer_turn,
    keep_answer,
    keep_plan,
    keep_voice,
    open_answer,
    send_answer,
    send_kept,
    take_back,
)
from standlight.programme.actions.bank import translate_line
from standlight.programme.actions.desk import keep_line, rate
from standlight.programme.actions.retention import remove_expired_sound
from standlight.programme.models import (
    Answer,
    AnswerSound,
    DeskSitting,
    EarlierAnswer,
    KeptAnswer,
    MusicianPlan,
    Seat,
    Take,
    Turn,
)
from standlight.programme.queries.answer_values import AnswerDraft
from standlight.programme.queries.answers import kept_page, stamp_of, standing_answer
from standlight.programme.queries.desk import desk_page
from standlight.programme.queries.desk_queue import check_list, queue_of
from standlight.programme.queries.my_part import came_back, open_attempt
from tests.programme.desk_scene import ALL_THREE, more_clarinets, send

pytestmark = pytest.mark.django_db


def spoken(seconds=2.0):
    """A quiet tone as a WAV file, for a voice."""
    rate_hz = 8000
    wave = 3000 * np.sin(2 * np.pi * 220 * np.arange(int(seconds * rate_hz)) / rate_hz)
    out = io.BytesIO()
    with av.open(out, "w", format="wav") as container:
        stream = container.add_stream("pcm_s16le", rate=rate_hz)
        frame = av.AudioFrame.from_ndarray(
            wave.astype(np.int16)[None, :], format="s16", layout="mono"
        )
        frame.sample_rate = rate_hz
        for packet in (*stream.encode(frame), *stream.encode(None)):
            container.mux(packet)
    return out.getvalue()


def stamps(account):
    return {
        line.turn_pk: line.stamp for check in kept_page(account).checks for line in check.lines
    }


# Kept until they are sent.


def test_a_kept_answer_is_not_seen_waits_no_more_and_is_sent_with_the_others(cast, scene, turn):
    other = send(scene, cast.second_musician)
    keep_answer(cast.director, turn, AnswerDraft(next_step="Count aloud"))
    keep_answer(cast.director, other, AnswerDraft(next_step="Wait for the rest"))
    assert queue_of(cast.director, scene.check) == []
    assert not Answer.objects.exists()
    assert not KeptAnswer.objects.visible_to(cast.musician.account).exists()
    listed = {row.name: row.note for part in check_list(scene.check).sections
              for row in part.musicians}
    assert listed[cast.musician.name] == "answer kept, not sent"
    assert check_list(scene.check).waiting == 0
    batch = send_kept(cast.director, stamps(cast.director))
    assert (batch.sent, batch.stayed) == (2, ())
    turn.refresh_from_db()
    assert turn.answered_at is not None
    assert turn.answer.next_step == "Count aloud"
    assert not KeptAnswer.objects.exists()


def test_part_of_them_is_sent_and_the_rest_stays_kept(cast, scene, turn):
    people = more_clarinets(scene, 3)
    turns = [turn, *(send(scene, person) for person in people)]
    for number, one in enumerate(turns):
        keep_answer(cast.director, one, AnswerDraft(next_step=f"Step {number}"))
    shown = stamps(cast.director)
    chosen = {one.pk: shown[one.pk] for one in turns[:2]}
    assert send_kept(cast.director, chosen).sent == 2
    assert set(KeptAnswer.objects.values_list("turn_id", flat=True)) == {
        turns[2].pk, turns[3].pk,
    }


def test_one_that_was_changed_or_sent_meanwhile_stays_back_and_is_told(cast, scene, turn):
    other = send(scene, cast.second_musician)
    for one in (turn, other):
        keep_answer(cast.director, one, AnswerDraft(next_step="Count"))
    shown = stamps(cast.director)
    keep_answer(cast.second_director, turn, AnswerDraft(next_step="Breathe first"))
    answer_turn(cast.second_director, other, next_step="Softer")
    batch = send_kept(cast.director, shown)
    assert batch.sent == 0
    assert len(batch.stayed) == 2
    assert "Mina Okafor: changed since you saw this list" in batch.stayed[0]
    assert "meanwhile" in batch.stayed[1]
    assert KeptAnswer.objects.get().next_step == "Breathe first"
    assert other.answer.next_step == "Softer"


def test_a_dropped_answer_waits_again_and_its_words_are_not_lost(cast, scene, turn):
    keep_answer(cast.director, turn, AnswerDraft(next_step="Count"))
    take_back(cast.director, turn)
    take_back(cast.director, turn)
    assert queue_of(cast.director, scene.check) == [turn.pk]
    assert [row.next_step for row in EarlierAnswer.objects.all()] == ["Count"]


def test_another_schools_director_sends_nothing(cast, turn):
    keep_answer(cast.director, turn, AnswerDraft(next_step="Count"))
    shown = stamps(cast.director)
    assert kept_page(cast.outsider_director).total == 0
    assert send_kept(cast.outsider_director, shown).sent == 0
    assert not Answer.objects.exists()


def test_an_answer_goes_out_in_the_name_of_who_wrote_it(cast, turn):
    keep_answer(cast.second_director, turn, AnswerDraft(next_step="Count"))
    send_kept(cast.director, stamps(cast.director))
    assert Answer.objects.get().written_by == cast.second_director


def test_a_musician_who_left_and_a_take_removed_by_rule_are_said_and_lose_nothing(cast, turn):
    keep_answer(cast.director, turn, AnswerDraft(next_step="Count"))
    Seat.objects.filter(musician=cast.musician).update(left_on=timezone.localdate())
    Take.objects.filter(turn=turn).update(state=Take.REMOVED, digest="", playback_digest="")
    remarks = kept_page(cast.director).checks[0].lines[0].remarks
    assert any("no longer in the group" in words for words in remarks)
    assert any("removed after the time" in words for words in remarks)
    assert send_kept(cast.director, stamps(cast.director)).sent == 1
    assert Answer.objects.get().next_step == "Count"


# Two windows at once.


def test_the_second_window_is_told_and_neither_answer_is_lost(cast, turn):
    seen = stamp_of(standing_answer(turn))
    send_answer(cast.director, turn, AnswerDraft(next_step="Count"), seen)
    with pytest.raises(AnsweredMeanwhile, match="Dana Whitlock has answered.*“Count”") as told:
        send_answer(cast.second_director, turn, AnswerDraft(next_step="Breathe"), seen)
    assert told.value.said.by == "Dana Whitlock"
    assert Answer.objects.get().next_step == "Count"
    fresh = stamp_of(standing_answer(turn))
    send_answer(cast.second_director, turn, AnswerDraft(next_step="Breathe"), fresh)
    assert Answer.objects.get().next_step == "Breathe"
    before = EarlierAnswer.objects.get()
    assert (before.next_step, before.written_by, before.was_sent) == ("Count", cast.director, True)


def test_the_same_words_from_a_second_window_are_no_clash(cast, turn):
    seen = stamp_of(standing_answer(turn))
    send_answer(cast.director, turn, AnswerDraft(next_step="Count"), seen)
    send_answer(cast.director, turn, AnswerDraft(next_step=" Count "), seen)
    assert Answer.objects.count() == 1
    assert not EarlierAnswer.objects.exists()


def test_keeping_over_anothers_kept_answer_is_told_too(cast, turn):
    keep_answer(cast.director, turn, AnswerDraft(next_step="Count"), "")
    with pytest.raises(AnsweredMeanwhile):
        keep_answer(cast.second_director, turn, AnswerDraft(next_step="Breathe"), "")
    fresh = stamp_of(standing_answer(turn))
    keep_answer(cast.second_director, turn, AnswerDraft(next_step="Breathe"), fresh)
    assert EarlierAnswer.objects.get().was_sent is False


# Places, fill-ins, translations.


def test_each_line_has_its_measures_and_its_braces_are_filled_with_them(cast, turn):
    sent = send_answer(
        cast.director, turn,
        AnswerDraft(
            strength="{name}: warm in {measures}", next_step="{measures} at {tempo}",
            strategy="Sing the {part} of {measures}", first_measure=1, last_measure=2,
            places={"strength": (0, None), "strategy": (None, None)},
        ),
    )
    assert sent.strength == "Mina: warm in measure 33"
    assert sent.next_step == "Measures 34 to 35 at quarter note 96"
    assert sent.strategy == "Sing the Clarinet of measures 33 to 36"
    assert sent.places == {"strength": [0, 0]}
    page = came_back(cast.musician.account, turn)
    assert (page.strength.where, page.next_step.where, page.strategy.where) == (
        "33", "34 to 35", "",
    )


def test_the_braces_of_a_line_count_when_it_is_too_long_once_they_are_filled(cast, turn):
    with pytest.raises(StandlightError, match="next step has"):
        send_answer(cast.director, turn, AnswerDraft(next_step="x" * 388 + " {measures}"))


def test_a_bank_line_with_a_brace_that_nothing_fills_is_refused(cast):
    fields = {"criterion": "rhythm", "place": "next_step", "level": 2}
    with pytest.raises(StandlightError, match="did you mean {measures}"):
        keep_line(cast.director, text="Count in {measure}", **fields)
    with pytest.raises(StandlightError, match="brace stands alone"):
        keep_line(cast.director, text="Count in {measures", **fields)


def test_the_directors_own_translation_stands_beside_a_line_sent_as_it_is(cast, turn):
    line = keep_line(cast.director, criterion="intonation", place="next_step", level=2,
                     text="Sing {measures} first.")
    translate_line(line, "es", "Canta primero los compases {measures}.")
    cast.musician.first_language = "es"
    cast.musician.save()
    turn = Turn.objects.get(pk=turn.pk)
    rate(cast.director, turn, ALL_THREE)
    offer = desk_page(cast.director, turn).offers["next_step"][0]
    assert (offer.text, offer.template) == (
        "Sing measures 33 to 36 first.", "Sing {measures} first.",
    )
    send_answer(cast.director, turn, AnswerDraft(next_step=offer.text))
    said = came_back(cast.musician.account, turn)
    assert said.next_step.translated == "Canta primero los compases 33-36."
    assert (said.language, said.language_name) == ("es", "español")
    send_answer(cast.director, turn, AnswerDraft(next_step=offer.text + " Slowly."))
    turn.refresh_from_db()
    assert came_back(cast.musician.account, turn).next_step.translated == ""


def test_a_translation_holds_only_the_fill_ins_of_its_line_and_none_takes_it_away(cast):
    line = keep_line(cast.director, criterion="rhythm", place="next_step", level=2, text="Count")
    with pytest.raises(StandlightError, match="has no {measures}"):
        translate_line(line, "es", "Cuenta {measures}")
    with pytest.raises(StandlightError, match="no language"):
        translate_line(line, "xx", "Cuenta")
    translate_line(line, "es", "Cuenta")
    assert translate_line(line, "es", "  ") is None
    assert not line.translations.exists()


# Spoken.


def test_a_spoken_answer_alone_is_enough_and_the_musician_hears_it_once_it_is_sent(cast, turn):
    sound = keep_voice(cast.director, turn, spoken())
    assert sound.seconds == pytest.approx(2.0, abs=0.05)
    assert not AnswerSound.objects.visible_to(cast.musician.account).exists()
    keep_answer(cast.director, turn, AnswerDraft(voice=str(sound.key)))
    assert not AnswerSound.objects.visible_to(cast.musician.account).exists()
    send_kept(cast.director, stamps(cast.director))
    assert AnswerSound.objects.visible_to(cast.musician.account).get() == sound
    assert not AnswerSound.objects.visible_to(cast.second_musician.account).exists()
    turn.refresh_from_db()
    assert came_back(cast.musician.account, turn).voice == str(sound.key)


def test_the_same_recording_twice_is_one_and_another_turns_is_not_taken(cast, scene, turn):
    other = send(scene, cast.second_musician)
    sound = keep_voice(cast.director, turn, spoken())
    assert keep_voice(cast.director, turn, spoken()) == sound
    with pytest.raises(StandlightError, match="not here any more"):
        send_answer(cast.director, other, AnswerDraft(voice=str(sound.key)))
    with pytest.raises(StandlightError, match="not here any more"):
        send_answer(cast.director, turn, AnswerDraft(voice="no key"))


@pytest.mark.parametrize(
    ("data", "sentence"),
    [
        (b"", "empty"),
        (b"no sound at all", "text file, not a recording"),
        (spoken(17.0), "17 seconds, and 15 fit"),
    ],
)
def test_a_recording_that_is_empty_none_or_too_long_is_refused_in_words(
    cast, turn, data, sentence
):
    with pytest.raises(StandlightError, match=sentence):
        keep_voice(cast.director, turn, data)
    assert not AnswerSound.objects.exists()


def test_where_text_is_agreed_a_voice_without_its_line_is_refused_even_later(cast, turn):
    sound = keep_voice(cast.director, turn, spoken())
    keep_answer(cast.director, turn, AnswerDraft(voice=str(sound.key)))
    cast.musician.accommodations = ["written"]
    cast.musician.save()
    batch = send_kept(cast.director, stamps(cast.director))
    assert batch.sent == 0
    assert "in writing too" in batch.stayed[0]
    turn = Turn.objects.get(pk=turn.pk)
    with pytest.raises(StandlightError, match="in writing too"):
        send_answer(cast.director, turn, AnswerDraft(next_step="Count", voice=str(sound.key)))
    send_answer(cast.director, turn, AnswerDraft(voice=str(sound.key), caption="Count the rests"))
    assert came_back(cast.musician.account, turn).caption == "Count the rests"


def test_a_spoken_answer_goes_by_the_schools_rule_and_its_line_stays(cast, turn, settings):
    sound = keep_voice(cast.director, turn, spoken())
    send_answer(cast.director, turn, AnswerDraft(voice=str(sound.key), caption="Count the rests"))
    place = store.path_of(sound.digest)
    assert place.exists()
    later = timezone.now() + datetime.timedelta(settings.STANDLIGHT_KEEP_TAKES_DAYS + 1)
    remove_expired_sound(later)
    sound.refresh_from_db()
    assert sound.removed_at is not None
    page = came_back(cast.musician.account, Turn.objects.get(pk=turn.pk))
    assert (page.voice, page.voice_gone, page.caption) == ("", True, "Count the rests")


def test_a_recording_that_no_answer_took_goes_after_two_weeks(cast, turn):
    keep_voice(cast.director, turn, spoken())
    remove_expired_sound(timezone.now() + datetime.timedelta(10))
    assert AnswerSound.objects.exists()
    remove_expired_sound(timezone.now() + datetime.timedelta(16))
    assert not AnswerSound.objects.exists()


# The musician: opened, plan, trying again.


def test_the_list_says_who_opened_an_answer_and_who_made_a_plan(cast, scene, turn):
    def noted():
        return check_list(scene.check).sections[0].musicians[0].note

    assert noted() == ""
    sent = answer_turn(cast.director, turn, next_step="Count")
    assert noted() == "not opened yet"
    open_answer(sent)
    keep_plan(turn, ["Count aloud"])
    assert noted().startswith("opened ")
    assert noted().endswith(", wrote a plan")


def test_a_plan_has_up_to_three_lines_and_follows_an_answer(cast, turn):
    with pytest.raises(NotAllowed, match="no answer yet"):
        keep_plan(turn, ["Count"])
    answer_turn(cast.director, turn, next_step="Count")
    with pytest.raises(StandlightError, match="4 lines, and 3 fit"):
        keep_plan(turn, ["a", "b", "c", "d"])
    with pytest.raises(StandlightError, match="121 letters, and 120 fit"):
        keep_plan(turn, ["x" * 121])
    keep_plan(turn, ["Slow first", " ", "then  faster"])
    assert MusicianPlan.objects.get().lines == ["Slow first", "then faster"]
    assert came_back(cast.musician.account, turn).plan == ("Slow first", "then faster", "")
    keep_plan(turn, ["", "  "])
    assert not MusicianPlan.objects.exists()


def test_the_plan_about_the_last_answer_is_read_with_the_next_try(cast, scene, turn):
    answer_turn(cast.director, turn, next_step="Count")
    keep_plan(turn, ["Slow first"])
    again = send(scene, cast.musician, attempt=2)
    rate(cast.director, again, ALL_THREE)
    assert desk_page(cast.director, again).answering.plan == ("Slow first",)


def test_after_the_last_day_no_new_try_may_begin_and_the_page_says_so(cast, scene, turn):
    answer_turn(cast.director, turn, next_step="Count")
    today = timezone.localdate()
    assert open_attempt(cast.musician, scene.check) == 2
    assert came_back(cast.musician.account, turn).may_try_again
    scene.check.tries_until = today - datetime.timedelta(1)
    scene.check.save()
    turn = Turn.objects.get(pk=turn.pk)
    assert open_attempt(cast.musician, scene.check) is None
    page = came_back(cast.musician.account, turn)
    assert not page.may_try_again
    assert page.tries.startswith("New tries ended on ")
    cast.musician.extra_days = 1
    assert open_attempt(cast.musician, scene.check) == 2


def test_the_musician_reads_which_of_the_answered_tries_counts(cast, scene, turn):
    scene.check.try_counts = scene.check.BEST
    scene.check.save()
    again = send(scene, cast.musician, attempt=2)
    for one, levels in ((turn, ALL_THREE), (again, dict.fromkeys(ALL_THREE, "1"))):
        rate(cast.director, one, levels)
    answer_turn(cast.director, turn, next_step="Count")
    first = Turn.objects.get(pk=turn.pk)
    assert came_back(cast.musician.account, first).counts == ""
    answer_turn(cast.director, again, next_step="Count")
    first, second = (Turn.objects.get(pk=one.pk) for one in (turn, again))
    assert came_back(cast.musician.account, first).counts == (
        "This is try 1. It is the one that counts now."
    )
    assert came_back(cast.musician.account, second).counts == (
        "This is try 2. Try 1 counts now."
    )


def test_behind_a_code_no_offered_line_tells_the_name_and_the_musician_reads_it(
    cast, scene, turn
):
    keep_line(cast.director, criterion="notes", place="strength", level=4,
              text="{name}, every note is there.")
    DeskSitting.objects.create(account=cast.director, check_row=scene.check, blind=True)
    rate(cast.director, turn, ALL_THREE)
    offer = desk_page(cast.director, turn).offers["strength"][0]
    assert offer.text == "{name}, every note is there."
    sent = send_answer(cast.director, turn, AnswerDraft(next_step="Go on", strength=offer.text))
    assert sent.strength == "Mina, every note is there."
