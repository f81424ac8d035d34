"""What comes in of a take: pieces in any order, repeats, gaps, conflicts, limits; sending."""

import random
from uuid import uuid4

import pytest
from django_q.models import OrmQ

from standlight.errors import NotAllowed, StandlightError, UnreadableTake
from standlight.programme import pieces, store
from standlight.programme.actions import takes
from standlight.programme.models import Musician, Remark, Take, Turn
from standlight.workshop.decoding import decode
from tests.web.scene import paper, publish, video, wav

pytestmark = pytest.mark.django_db

AUDIO = {"media_type": "audio/webm", "settings": {"sampleRate": 48000}}


def the_turn(cast, check, attempt=1):
    return cast.musician.pk, check.pk, attempt


def arrive(turn_key, data, *, n=5, key=None, order=None):
    """Send ``data`` in ``n`` pieces and have it joined; the take's key."""
    key = key or uuid4()
    cut = [data[i * len(data) // n : (i + 1) * len(data) // n] for i in range(n)]
    for number in order or range(n):
        takes.keep_piece(turn_key, key, number, cut[number])
    assert takes.make_whole(turn_key, key, n_pieces=n, **AUDIO) == ()
    return key


def test_pieces_in_any_order_make_the_same_take(cast, django_capture_on_commit_callbacks):
    check, data = publish(cast), random.Random(1).randbytes(5000)
    with django_capture_on_commit_callbacks(execute=True):
        key = arrive(the_turn(cast, check), data, n=7, order=[6, 0, 3, 1, 5, 2, 4])
    take = Take.objects.get(key=key)
    assert store.fetch(take.digest) == data
    assert (take.state, take.n_pieces, take.number) == (Take.WHOLE, 7, 1)
    assert take.settings == {"sampleRate": 48000}
    assert OrmQ.objects.count() == 1
    assert pieces.bytes_so_far(key) == 0


def test_a_repeated_piece_and_a_repeated_end_change_nothing(cast):
    turn_key, key = the_turn(cast, publish(cast)), uuid4()
    for _ in range(3):
        takes.keep_piece(turn_key, key, 0, b"one")
    assert takes.make_whole(turn_key, key, n_pieces=1, **AUDIO) == ()
    digest = Take.objects.get(key=key).digest
    takes.keep_piece(turn_key, key, 0, b"one")
    assert takes.make_whole(turn_key, key, n_pieces=1, **AUDIO) == ()
    assert Take.objects.get(key=key).digest == digest
    assert Turn.objects.count() == Take.objects.count() == 1


def test_missing_pieces_are_named_and_the_take_is_not_joined(cast):
    turn_key, key = the_turn(cast, publish(cast)), uuid4()
    takes.keep_piece(turn_key, key, 1, b"b")
    takes.keep_piece(turn_key, key, 3, b"d")
    assert takes.make_whole(turn_key, key, n_pieces=4, **AUDIO) == (0, 2)
    assert Take.objects.get(key=key).state == Take.ARRIVING


def test_the_same_number_with_other_bytes_is_a_conflict(cast):
    turn_key, key = the_turn(cast, publish(cast)), uuid4()
    takes.keep_piece(turn_key, key, 0, b"one")
    with pytest.raises(takes.PieceConflict, match="other bytes, at piece 0"):
        takes.keep_piece(turn_key, key, 0, b"two")


def test_a_piece_for_a_whole_take_is_a_conflict(cast):
    turn_key = the_turn(cast, publish(cast))
    key = arrive(turn_key, b"abcde")
    with pytest.raises(takes.PieceConflict, match="whole already"):
        takes.keep_piece(turn_key, key, 5, b"more")


def test_more_pieces_than_counted_is_a_conflict(cast):
    turn_key, key = the_turn(cast, publish(cast)), uuid4()
    for number in range(3):
        takes.keep_piece(turn_key, key, number, b"x%d" % number)
    with pytest.raises(takes.PieceConflict, match="3 pieces came for a take of 2"):
        takes.make_whole(turn_key, key, n_pieces=2, **AUDIO)


def test_a_piece_and_a_take_have_a_largest_size(cast, monkeypatch):
    turn_key, key = the_turn(cast, publish(cast)), uuid4()
    with pytest.raises(takes.TooLarge):
        takes.keep_piece(turn_key, key, 0, b"0" * (takes.LARGEST_PIECE_BYTES + 1))
    monkeypatch.setattr(takes, "LARGEST_TAKE_BYTES", 10)
    takes.keep_piece(turn_key, key, 0, b"0" * 6)
    with pytest.raises(takes.TooLarge):
        takes.keep_piece(turn_key, key, 1, b"0" * 6)


def test_a_fourth_take_is_refused_until_one_is_let_go(cast):
    turn_key = the_turn(cast, publish(cast))
    keys = [arrive(turn_key, f"take {n}".encode()) for n in range(3)]
    assert sorted(Take.objects.values_list("number", flat=True)) == [1, 2, 3]
    with pytest.raises(NotAllowed, match="3 takes are kept already"):
        takes.keep_piece(turn_key, uuid4(), 0, b"x")
    takes.let_go(turn_key, keys[1])
    arrive(turn_key, b"another one")
    assert sorted(Take.objects.values_list("number", flat=True)) == [1, 3, 4]


def test_letting_a_take_go_removes_its_sound_but_no_file_another_take_needs(
    cast, django_capture_on_commit_callbacks
):
    turn_key = the_turn(cast, publish(cast))
    with django_capture_on_commit_callbacks(execute=True):
        first, second = arrive(turn_key, b"the same"), arrive(turn_key, b"the same")
    digest = Take.objects.get(key=first).digest
    with django_capture_on_commit_callbacks(execute=True):
        takes.let_go(turn_key, first)
    assert store.path_of(digest).exists()
    with django_capture_on_commit_callbacks(execute=True):
        takes.let_go(turn_key, second)
        takes.let_go(turn_key, second)
    assert not store.path_of(digest).exists()
    assert not Take.objects.exists()


def test_a_take_of_another_turn_can_be_neither_filled_nor_let_go_nor_sent(cast):
    check = publish(cast)
    key = arrive(the_turn(cast, check), b"mine!")
    theirs = (cast.second_musician.pk, check.pk, 1)
    for act in (
        lambda: takes.keep_piece(theirs, key, 9, b"x"),
        lambda: takes.make_whole(theirs, key, n_pieces=1, **AUDIO),
        lambda: takes.let_go(theirs, key),
        lambda: takes.send_turn(theirs, key),
    ):
        with pytest.raises(NotAllowed):
            act()


@pytest.mark.parametrize("way", [Musician.LIVE_ONLY, Musician.NEITHER])
def test_a_musician_who_does_not_record_cannot_send_a_take(cast, way):
    check = publish(cast)
    Musician.objects.filter(pk=cast.musician.pk).update(way=way)
    with pytest.raises(NotAllowed, match="heard live"):
        takes.keep_piece(the_turn(cast, check), uuid4(), 0, b"x")


def test_a_check_of_another_group_or_not_published_takes_nothing(cast):
    choir_check = paper(cast, group=cast.choir)
    draft = paper(cast, published_at=None)
    for check in (choir_check, draft):
        with pytest.raises(NotAllowed):
            takes.keep_piece(the_turn(cast, check), uuid4(), 0, b"x")


def test_sending_keeps_own_levels_words_and_the_spot_and_is_safe_to_repeat(cast):
    check = publish(cast)
    turn_key = the_turn(cast, check)
    key = arrive(turn_key, b"abcde")
    for _ in range(2):
        turn = takes.send_turn(
            turn_key, key, self_levels={"rhythm": "3", "tone": "4", "pulse": ""},
            words=" I messed up the fast part ", spot=takes.Spot(2, 1, "the run"),
        )  # fmt: skip
    assert turn.sent_at is not None
    assert turn.self_levels == {"rhythm": 3}
    assert turn.words == "I messed up the fast part"
    assert turn.way == Turn.WEB
    assert Take.objects.get(key=key).chosen
    remark = Remark.objects.get()
    assert (remark.first_measure, remark.last_measure, remark.words) == (1, 2, "the run")
    assert (remark.author, remark.turn, remark.part.name) == (
        cast.musician.account,
        turn,
        "Clarinet in Bb 1",
    )


def test_a_second_take_cannot_be_sent_for_the_same_turn(cast):
    turn_key = the_turn(cast, publish(cast))
    first, second = arrive(turn_key, b"abcde"), arrive(turn_key, b"fghij")
    takes.send_turn(turn_key, first)
    with pytest.raises(NotAllowed, match="another take"):
        takes.send_turn(turn_key, second)
    with pytest.raises(NotAllowed, match="sent"):
        takes.let_go(turn_key, first)
    with pytest.raises(NotAllowed, match="sent already"):
        takes.keep_piece(turn_key, uuid4(), 0, b"x")


def test_a_take_that_is_still_arriving_cannot_be_sent(cast):
    turn_key, key = the_turn(cast, publish(cast)), uuid4()
    takes.keep_piece(turn_key, key, 0, b"x")
    with pytest.raises(StandlightError, match="not whole yet"):
        takes.send_turn(turn_key, key)
    with pytest.raises(StandlightError, match="not here yet"):
        takes.send_turn(turn_key, uuid4())


@pytest.mark.parametrize("level", ["0", "5", "good", 2.5])
def test_an_own_level_outside_one_to_four_is_refused(cast, level):
    turn_key = the_turn(cast, publish(cast))
    key = arrive(turn_key, b"abcde")
    with pytest.raises(StandlightError, match="not between 1 and 4"):
        takes.send_turn(turn_key, key, self_levels={"rhythm": level})
    assert Turn.objects.get().sent_at is None


def test_a_spot_outside_the_passage_is_refused(cast):
    turn_key = the_turn(cast, publish(cast))
    key = arrive(turn_key, b"abcde")
    with pytest.raises(StandlightError, match="outside your passage"):
        takes.send_turn(turn_key, key, spot=takes.Spot(2, 9))


def test_after_an_answer_the_next_take_opens_a_next_attempt(cast):
    from django.utils import timezone

    from standlight.programme.queries.my_part import open_attempt

    check = publish(cast)
    assert open_attempt(cast.musician, check) == 1
    key = arrive(the_turn(cast, check), b"abcde")
    takes.send_turn(the_turn(cast, check), key)
    assert open_attempt(cast.musician, check) is None
    Turn.objects.update(answered_at=timezone.now())
    assert open_attempt(cast.musician, check) == 2
    arrive(the_turn(cast, check, 2), b"again")
    assert sorted(Turn.objects.values_list("attempt", flat=True)) == [1, 2]


def test_a_sound_file_is_kept_as_it_came_and_the_same_file_only_once(cast):
    check, data = publish(cast), wav()
    first = takes.keep_file(cast.musician, check, data, media_type="audio/wav")
    again = takes.keep_file(cast.musician, check, data, media_type="audio/wav")
    assert first == again
    assert store.fetch(first.digest) == data
    takes.send_turn(the_turn(cast, check), first.key)
    assert Turn.objects.get().way == Turn.FILE


def test_of_a_video_only_the_sound_is_kept(cast):
    data = video()
    take = takes.keep_file(cast.musician, publish(cast), data, media_type="video/mp4")
    kept = store.fetch(take.digest)
    assert take.media_type == "audio/flac"
    assert take.settings["picture_dropped"] is True
    assert kept[:4] == b"fLaC"  # RFC 9639, section 8: the stream marker
    assert decode(kept).picture_dropped is False
    assert decode(data).picture_dropped is True


def test_a_video_named_as_sound_still_loses_its_picture(cast):
    take = takes.keep_file(cast.musician, publish(cast), video(), media_type="audio/mp4")
    assert store.fetch(take.digest)[:4] == b"fLaC"


def test_a_damaged_video_is_refused_with_a_sentence_and_nothing_is_kept(cast):
    with pytest.raises(UnreadableTake):
        takes.keep_file(cast.musician, publish(cast), video()[:400], media_type="video/mp4")
    assert not Take.objects.exists()


def test_a_text_file_named_as_sound_stays_for_the_hearing_to_refuse(cast):
    take = takes.keep_file(
        cast.musician, publish(cast), b"Dear director, here is my take", media_type="audio/mpeg"
    )
    assert take.state == Take.WHOLE


def test_an_empty_file_and_one_too_large_get_a_sentence(cast, monkeypatch):
    check = publish(cast)
    with pytest.raises(UnreadableTake, match="empty, at my.wav"):
        takes.keep_file(cast.musician, check, b"", name="my.wav")
    monkeypatch.setattr(takes, "LARGEST_FILE_BYTES", 100)
    with pytest.raises(takes.TooLarge):
        takes.keep_file(cast.musician, check, wav())
