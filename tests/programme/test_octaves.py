"""A voice part written an octave too high: asked once, answered, cut and shown accordingly."""

import datetime

import pytest
from django.db import connection
from lxml import etree

from standlight import score
from standlight.errors import NotAllowed, StandlightError
from standlight.programme import store
from standlight.programme.actions import checks, folder, octaves
from standlight.programme.models import Casting, Seat, Turn
from standlight.programme.queries.folder import piece_page
from standlight.score import read_passage
from tests.scores import real

pytestmark = pytest.mark.django_db

PART = "Alto (or 1st Tenor)"


@pytest.fixture
def piece(cast):
    return folder.add_score(
        cast.director, cast.choir, real("sullivan_long_day_closes_ttbb.mxl"), name="ttbb.mxl"
    )


@pytest.fixture
def part(cast, piece):
    """The part that is asked about, given to the cast's singer."""
    part = piece.parts.get(name=PART)
    Casting.objects.update_or_create(
        seat=Seat.objects.get(musician=cast.singer), piece=piece, defaults={"part": part}
    )
    return part


def check_of(cast, piece):
    facts = checks.CheckFacts("Song", ("intonation", "rhythm", "notes"), 72.0,
                              datetime.date(2030, 1, 15))  # fmt: skip
    return checks.make_check(cast.director, piece, facts)


def sounding(check, part):
    row = check.passages.get(part=part)
    return [note.midi for note in read_passage(store.fetch(row.notation_digest)).notes]


def lines(cast, piece):
    page = piece_page(cast.director, piece)
    return page, {line.name: line for line in page.parts}


def test_the_piece_asks_about_that_part_and_no_other(cast, piece):
    page, parts = lines(cast, piece)
    assert [asked.part_name for asked in page.octaves] == [PART]
    assert page.octaves[0].answer == "" and "an octave too high?" in page.octaves[0].sentence
    assert not any("octave too high" in remark.sentence for remark in page.remarks)
    # The file's own pitches run from A flat 4 to B 5.
    assert parts[PART].range_words == "Ab4 to B5"


def test_yes_puts_range_and_later_cuts_an_octave_lower_and_they_look_as_printed(cast, piece, part):
    before = check_of(cast, piece)
    written = sounding(before, part)
    assert octaves.answer_octave(cast.director, part, "lower") == 1
    assert lines(cast, piece)[1][PART].range_words == "Ab3 to B4"
    after = check_of(cast, piece)
    # Both the check that nobody has sent anything for and a new one.
    for check in (before, after):
        assert sounding(check, part) == [midi - 12 for midi in written]
        cut = etree.fromstring(store.fetch(check.passages.get(part=part).notation_digest))
        assert cut.findtext(".//clef/clef-octave-change") == "-1"
    checks.move_passage(cast.director, after.passages.get(part=part), 8, 11)
    assert max(sounding(after, part)) <= 71


def test_no_is_remembered_and_can_be_changed(cast, piece, part):
    assert octaves.answer_octave(cast.director, part, "right") == 0
    piece.refresh_from_db()
    page, parts = lines(cast, piece)
    assert page.octaves[0].answer == "right" and parts[PART].range_words == "Ab4 to B5"
    part.refresh_from_db()
    octaves.answer_octave(cast.director, part, "lower")
    part.refresh_from_db()
    octaves.answer_octave(cast.director, part, "right")
    part.refresh_from_db()
    assert part.octaves_moved == 0


def test_what_was_already_sung_stays(cast, piece, part):
    check = check_of(cast, piece)
    before = sounding(check, part)
    now = datetime.datetime(2026, 11, 2, tzinfo=datetime.UTC)
    Turn.objects.create(check_row=check, musician=cast.singer, sent_at=now)
    assert octaves.answer_octave(cast.director, part, "lower") == 0
    assert sounding(check, part) == before


def test_only_the_director_answers_and_only_what_was_asked(cast, piece, part):
    for account in (cast.outsider_director, cast.second_director, cast.singer.account):
        with pytest.raises(NotAllowed):
            octaves.answer_octave(account, part, "lower")
    with pytest.raises(StandlightError, match="nothing was asked"):
        octaves.answer_octave(cast.director, piece.parts.get(name="2nd Tenor"), "lower")
    with pytest.raises(StandlightError, match="nothing was asked"):
        octaves.answer_octave(cast.director, part, "higher")
    part.refresh_from_db()
    assert part.octaves_moved == 0


@pytest.mark.django_db(transaction=True)
def test_the_score_is_read_before_the_answer_is_written(cast, piece, part, monkeypatch):
    """Writing waits for nobody while a score is cut, and the answer and its cuts are one act."""
    cut, seen = score.cut_passages, []

    def watched(*given, **more):
        seen.append(connection.in_atomic_block)
        return cut(*given, **more)

    check_of(cast, piece)
    monkeypatch.setattr(score, "cut_passages", watched)
    assert octaves.answer_octave(cast.director, part, "lower") == 1
    assert seen == [False]
