"""The printed pages of a check: the browser's and the PDF say the same to the same people."""

import html
import re

import pytest
from lxml import etree

from standlight.criteria import CRITERIA
from standlight.programme import store
from standlight.programme.actions import checks
from standlight.programme.actions.shifting import set_own_version
from standlight.programme.models import Casting, PlayingCheck, Seat
from standlight.programme.notation import svg_of
from standlight.programme.queries.checks import check_page
from standlight.programme.queries.print_pages import (
    NOT_YET_OWNED,
    OWN_PLAYERS,
    pdf_sheets,
    print_pages,
)
from standlight.score.remembering import MIDI_ORIGIN, ORIGIN_FIELD, remember
from tests.web import scene
from tests.web.scene import sign_in
from tests.workshop.test_pages import fonts_in, pages_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def check(cast):
    """A check whose one part two musicians of the choir share."""
    check = scene.publish(cast, musician=cast.singer, group=cast.choir, note="Breathe early")
    check.piece.composer, check.piece.credit = "A. Composer", "Edition of 1900, public domain"
    check.piece.score_digest = check.passages.get().notation_digest
    check.piece.save()
    section = Seat.objects.get(musician=cast.singer, section__ensemble=cast.choir).section
    seat = Seat.objects.create(musician=cast.musician, section=section)
    Casting.objects.create(seat=seat, piece=check.piece, part=check.passages.get().part)
    check.passages.update(first_measure=0, last_measure=1, printed="1 to 2")
    return check


def pages_of(cast, check, *, by_musician):
    check = PlayingCheck.objects.get(pk=check.pk)
    return print_pages(check, check_page(cast.director, check), by_musician=by_musician)


def test_a_page_a_part_names_those_who_share_it(cast, check):
    pages = pages_of(cast, check, by_musician=False)
    (sheet,) = pdf_sheets(pages)
    assert cast.singer.name in sheet.footer[0] and cast.musician.name in sheet.footer[0]
    assert sheet.svg == svg_of(check.passages.get().notation_digest)


def test_a_page_a_musician_holds_all_that_the_form_said(cast, check):
    sheets = pdf_sheets(pages_of(cast, check, by_musician=True))
    assert len(sheets) == 2
    assert {sheet.lines[0].split(".")[0] for sheet in sheets} == {
        cast.singer.name, cast.musician.name
    }  # fmt: skip
    page = check_page(cast.director, check)
    for sheet in sheets:
        (facts_line, note) = sheet.lines
        for words in (page.passages[0].part_name, "measures ", "Quarter note 96", "Due "):
            assert words in facts_line
        assert note == "Breathe early"
        names = [CRITERIA[key].name for key in scene.CRITERIA]
        assert [name for name, _ in sheet.questions] == names
        assert sheet.footer[0] == "Ode. A. Composer. Edition of 1900, public domain"
        assert sheet.footer[1] in (OWN_PLAYERS, NOT_YET_OWNED)


def test_the_copyright_sentence_says_what_the_school_has_confirmed(cast, check):
    programme = check.ensemble.programme
    for owns, sentence in ((True, OWN_PLAYERS), (False, NOT_YET_OWNED)):
        programme.owns_music = owns
        programme.save()
        assert pages_of(cast, check, by_musician=False).copyright == sentence


def test_a_musician_s_own_version_is_on_their_page_alone(cast, check):
    passage = check.passages.get()
    own = set_own_version(cast.director, passage, cast.singer, -12)
    mine, other = pages_of(cast, check, by_musician=True).sheets
    if mine.who != cast.singer.name:
        mine, other = other, mine
    assert mine.svg == svg_of(own.notation_digest) != other.svg
    assert other.svg == svg_of(passage.notation_digest)
    assert mine.moved == "Your own version, an octave lower" and other.moved == ""
    (whole,) = pages_of(cast, check, by_musician=False).sheets
    assert whole.svg == other.svg and whole.moved == ""


def test_the_pdf_has_a_page_for_each_page_of_the_browser(client, cast, check):
    sign_in(client, cast.director)
    for by, count in (("part", 1), ("musician", 2)):
        shown = client.get(f"/checks/{check.pk}/print/?by={by}").content.decode()
        assert shown.count('class="sheet"') == count
        answer = client.get(f"/checks/{check.pk}/print.pdf?by={by}")
        assert answer["Content-Type"] == "application/pdf"
        assert answer["Content-Disposition"] == 'inline; filename="check-1.pdf"'
        assert len(pages_in(answer.content)) == count
        assert fonts_in(answer.content) == {"LibertinusSerif"}  # the tune itself has no words


def test_the_browser_s_page_says_what_the_pdf_says_and_leads_to_it(client, cast, check):
    sign_in(client, cast.director)
    shown = client.get(f"/checks/{check.pk}/print/?by=musician").content.decode()
    assert f'href="/checks/{check.pk}/print.pdf?by=musician"' in shown
    assert "One PDF for all" in shown
    words = html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", "", shown)))
    for sheet in pdf_sheets(pages_of(cast, check, by_musician=True)):
        for line in (*sheet.lines, *sheet.footer):
            assert line in words, line
        for name, question in sheet.questions:
            assert f"{name}. {question}" in words


def test_letter_paper_is_offered_and_any_other_is_not_found(client, cast, check):
    sign_in(client, cast.director)
    letter = client.get(f"/checks/{check.pk}/print.pdf?paper=letter").content
    assert pages_in(letter)[0] == pytest.approx((215.9, 279.4), abs=0.2)
    assert client.get(f"/checks/{check.pk}/print.pdf?paper=foolscap").status_code == 404


def test_music_that_cannot_be_drawn_leaves_a_page_with_a_sentence(cast, check):
    check.passages.update(notation_digest="0" * 64)
    (sheet,) = pdf_sheets(pages_of(cast, check, by_musician=False))
    assert sheet.svg == "" and "Use the printed part" in sheet.lines[-1]
    assert "<" not in sheet.lines[-1]


def test_notes_without_an_engraving_are_never_drawn(cast, check):
    root = etree.fromstring(store.fetch(check.passages.get().notation_digest))
    remember(root, ORIGIN_FIELD, MIDI_ORIGIN)
    check.passages.update(notation_digest=store.keep(etree.tostring(root)))
    (sheet,) = pdf_sheets(pages_of(cast, check, by_musician=False))
    assert sheet.svg == "" and "measures 1 to 2" in sheet.lines[0]
    assert "from a MIDI file: use the printed part" in sheet.lines[-1]


def test_a_check_on_paper_has_a_page_for_everyone_and_one_for_each_other_place(client, cast):
    check = scene.paper(cast, printed="33 to 40", published_at=None)
    checks.say_where(cast.director, check, cast.snares, "letter B")
    sheets = pdf_sheets(pages_of(cast, check, by_musician=False))
    assert ["33 to 40" in sheets[0].lines[0], "letter B" in sheets[1].lines[0]] == [True, True]
    assert all(sheet.svg == "" and OWN_PLAYERS not in sheet.footer for sheet in sheets)
    sign_in(client, cast.director)
    assert len(pages_in(client.get(f"/checks/{check.pk}/print.pdf").content)) == 2


def test_a_check_nobody_plays_leads_back_with_the_reason(client, cast, check):
    Casting.objects.all().delete()
    sign_in(client, cast.director)
    said = client.get(f"/checks/{check.pk}/print.pdf", follow=True).content.decode()
    assert "there is no page to print" in said


def test_only_directors_of_the_group_get_the_pdf(client, cast, check):
    address = f"/checks/{check.pk}/print.pdf"
    assert client.get(address)["Location"].startswith("/sign-in/")
    for account in (cast.musician.account, cast.singer.account, cast.outsider_musician.account,
                    cast.outsider_director, cast.second_director):  # fmt: skip
        assert sign_in(client, account).get(address).status_code == 404
