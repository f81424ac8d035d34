"""A check: a passage for every part in use, moved by the director, then published."""

import datetime
import wave
from io import BytesIO

import pytest
from django_q.models import OrmQ
from lxml import etree

from standlight import score
from standlight.criteria import CRITERIA
from standlight.errors import NotAllowed, StandlightError, UnreadableTake
from standlight.programme import notation, store
from standlight.programme.actions import checks, folder, roster
from standlight.programme.models import CheckPassage, Piece, PlayingCheck, Turn
from standlight.programme.queries.checks import (
    beat_of,
    check_lines,
    check_page,
    criterion_words,
    drawn_page,
    measure_choices,
)
from standlight.programme.queries.hearing import passage_of
from tests.programme.test_folder import score_of

pytestmark = pytest.mark.django_db

OTHERS = ("tone", "pulse", "notes")
DUE = datetime.date(2030, 1, 15)


def facts(**more):
    return checks.CheckFacts(
        **{"title": "March", "criteria": ("tone", "rhythm", "notes"), "tempo_qpm": 90.0,
           "due_on": DUE, **more}
    )  # fmt: skip


@pytest.fixture
def piece(cast):
    return folder.add_score(cast.director, cast.band, score_of(), name="two.musicxml")


@pytest.fixture
def check(cast, piece):
    return checks.make_check(cast.director, piece, facts())


@pytest.fixture
def paper(cast):
    piece = folder.add_paper_piece(cast.director, cast.band, title="Old March")
    return checks.make_check(cast.director, piece, facts(), printed="33 to  40")


def sent(check, musician):
    now = datetime.datetime(2026, 11, 2, tzinfo=datetime.UTC)
    return Turn.objects.create(check_row=check, musician=musician, sent_at=now)


def test_every_part_in_use_gets_a_cut_that_plays_what_the_score_has_there(cast, check):
    row = check.passages.get(part__name="Clarinet in Bb")
    cut = score.read_passage(store.fetch(row.notation_digest))
    whole = score.read_score(score_of()).parts[0]
    there = [n for n in whole.notes if row.first_measure <= n.measure <= row.last_measure]
    assert [note.midi for note in cut.notes] == [note.midi for note in there]
    assert row.printed == f"{row.first_measure + 1} to {row.last_measure + 1}"
    assert row.reason and not row.moved_by_hand


def test_a_part_that_rests_throughout_says_so_and_has_no_notation(cast, check):
    row = check.passages.get(part__name="Snare drum")
    assert row.notation_digest == "" and row.first_measure is None
    page = check_page(cast.director, check)
    assert [line.part_name for line in page.resting] == ["Snare drum"]
    assert page.resting[0].reason == row.reason == "This part rests throughout."
    assert [line.part_name for line in page.passages] == ["Clarinet in Bb"]


def test_the_musician_s_page_and_the_listening_find_the_passage(cast, check):
    turn = sent(check, cast.musician)
    assert passage_of(turn).part.name == "Clarinet in Bb"


def test_a_moved_passage_is_cut_again_and_marked_as_chosen(cast, check):
    row = check.passages.select_related("part__piece").get(part__name="Clarinet in Bb")
    before = row.notation_digest
    checks.move_passage(cast.director, row, 9, 10)
    row = CheckPassage.objects.get(pk=row.pk)
    assert (row.printed, row.moved_by_hand) == ("10 to 11", True)
    assert row.reason.startswith("Chosen by you. Tone: four held notes. Notes: eight notes")
    assert row.notation_digest != before
    assert len(score.read_passage(store.fetch(row.notation_digest)).measures) == 2
    resting = check.passages.select_related("part__piece").get(part__name="Snare drum")
    checks.move_passage(cast.director, resting, 0, 0)
    resting = CheckPassage.objects.get(pk=resting.pk)
    assert (resting.printed, resting.reason) == ("1", "Chosen by you. Rests throughout.")


@pytest.mark.parametrize(
    ("first", "last", "words"),
    [(5, 4, "comes before the first"), (0, 12, "no such measures"), (-1, 3, "no such measures")],
)
def test_measures_the_piece_does_not_have_are_refused(cast, check, first, last, words):
    row = check.passages.select_related("part__piece").get(part__name="Clarinet in Bb")
    with pytest.raises(StandlightError, match=words):
        checks.move_passage(cast.director, row, first, last)
    with pytest.raises(StandlightError, match=words):
        checks.same_place(cast.director, check, first, last)


def test_the_same_place_moves_those_who_play_there_and_leaves_who_rests(cast, check):
    assert checks.same_place(cast.director, check, 4, 7) == (1, 1)
    assert check.passages.get(part__name="Clarinet in Bb").printed == "5 to 8"
    assert check.passages.get(part__name="Snare drum").printed == ""
    assert checks.propose_again(cast.director, check, keep_chosen=True) == 1
    assert check.passages.get(part__name="Clarinet in Bb").printed == "5 to 8"
    assert checks.propose_again(cast.director, check) == 2
    assert check.passages.filter(moved_by_hand=True).count() == 0


def test_a_passage_stays_once_somebody_has_sent_it(cast, check):
    sent(check, cast.musician)
    row = check.passages.select_related("part__piece").get(part__name="Clarinet in Bb")
    for act in (
        lambda: checks.move_passage(cast.director, row, 0, 1),
        lambda: checks.same_place(cast.director, check, 0, 1),
        lambda: checks.propose_again(cast.director, check),
        lambda: checks.change_check(cast.director, check, facts(criteria=OTHERS)),
        lambda: checks.remove_check(cast.director, check),
    ):
        with pytest.raises(NotAllowed):
            act()
    checks.change_check(cast.director, check, facts(title="March again"))
    check.refresh_from_db()
    assert check.title == "March again"


def test_a_part_that_comes_into_use_later_gets_its_passage(
    cast, piece, django_capture_on_commit_callbacks
):
    seat = cast.musician.seats.get()
    folder.give_part(cast.director, seat, piece, piece.parts.get(name="Snare drum"))
    check = checks.make_check(cast.director, piece, facts())
    assert not check.passages.filter(part__name="Clarinet in Bb").exists()
    cells = {"roster_id": "9", "given_name": "Bo", "family_name": "Quist", "grade": "7"}
    with django_capture_on_commit_callbacks(execute=True):
        roster.add_musician(cast.director, cast.clarinets, cells)
    assert check.passages.get(part__name="Clarinet in Bb").notation_digest


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"criteria": ("tone", "rhythm")}, "2 criteria are chosen, not 3 to 5"),
        ({"criteria": tuple(list(CRITERIA)[:6])}, "6 criteria are chosen"),
        ({"criteria": ("tone", "tone", "rhythm")}, "2 criteria are chosen"),
        ({"criteria": ("tone", "rhythm", "grit")}, "no criterion 'grit'"),
        ({"tempo_qpm": 5.0}, "not between 20 and 400"),
        ({"tempo_qpm": float("nan")}, "not between 20 and 400"),
        ({"title": "  "}, "needs a title"),
        ({"note": "x" * 401}, "more than 400"),
    ],
)
def test_a_check_with_a_slip_is_not_made(cast, piece, more, words):
    with pytest.raises(StandlightError, match=words):
        checks.make_check(cast.director, piece, facts(**more))
    assert not PlayingCheck.objects.exists()


def test_publishing_needs_a_passage_and_the_school_s_word_on_its_music(cast, check):
    with pytest.raises(StandlightError, match="owns the music"):
        checks.publish(cast.director, check)
    folder.confirm_owns_music(cast.director)
    check = PlayingCheck.objects.get(pk=check.pk)
    assert not PlayingCheck.objects.visible_to(cast.musician.account).exists()
    checks.publish(cast.director, check)
    first = check.published_at
    checks.publish(cast.director, check)
    assert check.published_at == first
    assert PlayingCheck.objects.visible_to(cast.musician.account).get() == check


def test_a_check_without_any_passage_is_not_published(cast):
    folder.confirm_owns_music(cast.director)
    piece = folder.add_typed_line(
        cast.director, cast.band, "C4 w", instrument="Violin", title="For nobody here"
    )
    check = checks.make_check(cast.director, piece, facts())
    with pytest.raises(StandlightError, match="nobody has a passage yet"):
        checks.publish(cast.director, check)


def test_a_paper_check_names_printed_measures_for_all_and_a_letter_for_one_section(cast, paper):
    checks.say_where(cast.director, paper, cast.snares, "letter B")
    page = check_page(cast.director, paper)
    assert (page.for_everyone, [place.printed for place in page.places]) == (
        "33 to 40", ["", "letter B"],
    )  # fmt: skip
    assert passage_of(sent(paper, cast.musician)).printed == "33 to 40"
    assert passage_of(sent(paper, cast.second_musician)).printed == "letter B"


def test_a_section_s_own_place_can_be_taken_away_and_everyone_s_cannot(cast, paper):
    checks.say_where(cast.director, paper, cast.snares, "letter B")
    checks.say_where(cast.director, paper, cast.snares, "")
    assert paper.passages.count() == 1
    with pytest.raises(StandlightError, match="name the measures or the letter"):
        checks.say_where(cast.director, paper, None, " ")
    with pytest.raises(StandlightError, match="another ensemble"):
        checks.say_where(cast.director, paper, cast.sopranos, "33")


def test_a_paper_check_is_published_without_notation(cast, paper):
    checks.publish(cast.director, paper)
    assert paper.published_at is not None
    assert drawn_page(check_page(cast.director, paper)).passages == ()


def test_others_may_not_make_move_or_publish(cast, piece, check):
    row = check.passages.select_related("part__piece").first()
    for account in (cast.outsider_director, cast.musician.account):
        for act in (
            lambda account=account: checks.make_check(account, piece, facts()),
            lambda account=account: checks.move_passage(account, row, 0, 1),
            lambda account=account: checks.publish(account, check),
            lambda account=account: checks.keep_model_take(account, check, b"x"),
            lambda account=account: checks.remove_check(account, check),
        ):
            with pytest.raises(NotAllowed):
                act()


def test_passages_are_drawn_by_an_errand_and_the_page_starts_no_child(
    cast, piece, django_capture_on_commit_callbacks, monkeypatch
):
    with django_capture_on_commit_callbacks(execute=True):
        check = checks.make_check(cast.director, piece, facts())
    assert [task.func() for task in OrmQ.objects.all()] == [notation.DRAW]
    (line,) = check_page(cast.director, check).passages
    assert line.svg is None
    monkeypatch.setattr(
        "standlight.workshop.engrave_many", lambda some, **k: ["<svg/>"] * len(some)
    )
    assert drawn_page(check_page(cast.director, check)).passages[0].svg == "<svg/>"
    assert check_page(cast.director, check).passages[0].svg == "<svg/>"


def test_a_real_cut_is_engraved_with_an_id_for_every_note(cast, check):
    row = check.passages.get(part__name="Clarinet in Bb")
    svg = notation.svg_of(row.notation_digest)
    n_notes = len(score.read_passage(store.fetch(row.notation_digest)).notes)
    assert svg.startswith("<svg") and "<style" not in svg and " style=" not in svg
    assert all(f'id="n{n}"' in svg for n in range(n_notes))


def test_a_model_take_is_kept_as_a_seekable_copy_and_a_text_file_is_refused(cast, check):
    out = BytesIO()
    with wave.open(out, "wb") as sound:
        sound.setnchannels(1)
        sound.setsampwidth(2)
        sound.setframerate(16000)
        sound.writeframes(b"\x00\x10\x00\xf0" * 8000)
    checks.keep_model_take(cast.director, check, out.getvalue())
    check.refresh_from_db()
    assert store.fetch(check.model_take_digest).startswith(b"fLaC")
    with pytest.raises(UnreadableTake):
        checks.keep_model_take(cast.director, check, b"dear director, here is my take")


def test_the_list_says_sent_n_of_m_and_what_waits(cast, check, paper):
    sent(check, cast.musician)
    lines = {line.pk: line for line in check_lines(cast.director)}
    line = lines[check.pk]
    assert (line.n_sent, line.n_asked, line.n_waiting, line.published) == (1, 2, 1, False)
    assert lines[paper.pk].n_sent == 0


def test_printed_numbers_that_stand_twice_say_which_one():
    rows = [("1", 0), ("2", 0), ("2", 0), ("1", 1), ("", 1)]
    piece = Piece(
        title="x",
        measures=[
            {"index": n, "printed": printed, "movement": movement, "rehearsal": None,
             "beats": 4, "beat_unit": 4}
            for n, (printed, movement) in enumerate(rows)
        ],
    )  # fmt: skip
    assert [choice.label for choice in measure_choices(piece)] == [
        "1 (movement 1)",
        "2 (measure 2 of the file)",
        "2 (measure 3 of the file)",
        "1 (movement 2)",
        "without a number",
    ]


@pytest.mark.parametrize(
    ("beats", "unit", "words"),
    [(4, 4, "quarter note 90"), (6, 8, "dotted quarter note 60"), (2, 2, "half note 45"),
     (3, 8, "eighth note 180"), (6, 4, "quarter note 90")],
)  # fmt: skip
def test_a_tempo_is_said_in_the_beat_of_the_piece(beats, unit, words):
    piece = Piece(title="x", measures=[{"beats": beats, "beat_unit": unit}])
    assert beat_of(piece).tempo_words(90.0) == words


@pytest.mark.parametrize(
    ("printed", "words"),
    [("3/2", "dotted quarter note 60"), ("2", "half note 45"), ("3", "dotted half note 30"),
     ("", "quarter note 90"), ("7/4", "quarter note 90")],
)  # fmt: skip
def test_a_tempo_is_said_in_the_note_that_the_score_prints_it_in(printed, words):
    piece = Piece(title="x", measures=[{"beats": 3, "beat_unit": 4, "tempo_beat": printed}])
    assert beat_of(piece).tempo_words(90.0) == words


def tempo_over(passage):
    """What is printed over the passage: beat unit, dots, number."""
    root = etree.fromstring(store.fetch(passage.notation_digest))
    (mark,) = root.iter("metronome")
    dots = len(mark.findall("beat-unit-dot"))
    return mark.findtext("beat-unit"), dots, mark.findtext("per-minute")


def test_the_music_carries_the_tempo_of_the_check_and_a_new_one_when_it_changes(cast, piece):
    check = checks.make_check(cast.director, piece, facts(tempo_qpm=84.0))
    row = check.passages.get(part__name="Clarinet in Bb")
    assert tempo_over(row) == ("quarter", 0, "84")
    sent(check, cast.musician)
    checks.change_check(cast.director, check, facts(tempo_qpm=66.0))
    assert tempo_over(CheckPassage.objects.get(pk=row.pk)) == ("quarter", 0, "66")


def test_a_score_marked_in_dotted_quarters_offers_that_number(cast):
    data = score_of()
    mark = (
        b"<direction><direction-type><metronome><beat-unit>quarter</beat-unit><beat-unit-dot/>"
        b"<per-minute>72</per-minute></metronome></direction-type></direction>"
    )
    data = data.replace(b"</attributes>", b"</attributes>" + mark, 1)
    piece = folder.add_score(cast.director, cast.band, data, name="marked.musicxml")
    assert piece.tempo_qpm == 108.0 and beat_of(piece).words == "dotted quarter note"
    check = checks.make_check(cast.director, piece, facts(tempo_qpm=90.0))
    row = check.passages.get(part__name="Clarinet in Bb")
    assert tempo_over(row) == ("quarter", 1, "60")
    assert check_page(cast.director, check).tempo_words == "dotted quarter note 60"


def test_a_criterion_shows_its_four_levels_from_beginning_to_extending():
    words = criterion_words(CRITERIA["rhythm"])
    assert [level.name for level in words.levels] == [
        "Beginning", "Developing", "Secure", "Extending",
    ]  # fmt: skip
    assert words.levels[0].descriptor == CRITERIA["rhythm"].descriptors[1]
