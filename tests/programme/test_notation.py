"""Engraved music is drawn once, and what cannot be drawn says so."""

import pytest

from standlight import workshop
from standlight.errors import WorkshopFailure
from standlight.programme import notation, store

SVG = '<svg xmlns="http://www.w3.org/2000/svg"><g id="n0"/></svg>'


@pytest.fixture
def engraver(monkeypatch):
    """Counts the calls of an engraver that draws the same thing each time."""
    calls = []

    def engrave_many(scores, *, width_mm=180, scale=40):
        calls.append((list(scores), width_mm))
        return [SVG for _ in scores]

    monkeypatch.setattr(workshop, "engrave_many", engrave_many)
    return calls


def test_a_passage_is_drawn_once_for_each_width(engraver):
    digest = store.keep(b"<score-partwise/>")
    assert notation.drawn(digest) is None
    assert notation.svg_of(digest) == SVG
    assert notation.svg_of(digest) == SVG
    assert notation.svg_of(digest, width_mm=notation.PHONE_MM) == SVG
    assert [width for _, width in engraver] == [180, 90]
    assert notation.drawn(digest) == SVG


def test_an_engraver_that_dies_leaves_a_sentence_and_nothing_kept(monkeypatch):
    def engrave_many(scores, *, width_mm=180, scale=40):
        return [WorkshopFailure("the engraver stopped <b>") for _ in scores]

    monkeypatch.setattr(workshop, "engrave_many", engrave_many)
    digest = store.keep(b"<score-partwise/>")
    said = notation.svg_of(digest)
    assert said.startswith('<p class="slip">')
    assert "the engraver stopped &lt;b&gt;" in said
    assert notation.drawn(digest) is None


def test_a_lost_file_and_no_notation_are_sentences_too(engraver):
    assert "missing" in notation.svg_of("0" * 64)
    assert "no notation" in notation.svg_of("")
    assert engraver == []


def test_a_name_that_is_no_digest_reaches_no_file(engraver):
    with pytest.raises(ValueError, match="no SHA-256 digest"):
        notation.svg_of("../../secret-key")


def test_the_errand_draws_both_widths_and_can_run_again(engraver):
    digests = [store.keep(b"<a/>"), store.keep(b"<b/>")]
    assert notation.draw_all(digests) == 4
    assert notation.draw_all(digests) == 4
    assert engraver == [([b"<a/>", b"<b/>"], 180), ([b"<a/>", b"<b/>"], 90)]


def test_many_passages_are_drawn_in_one_go_and_one_that_fails_harms_no_other(monkeypatch):
    calls = []

    def engrave_many(scores, *, width_mm=180, scale=40):
        calls.append(list(scores))
        return [WorkshopFailure("no") if score == b"<bad/>" else SVG for score in scores]

    monkeypatch.setattr(workshop, "engrave_many", engrave_many)
    good, bad, lost = store.keep(b"<good/>"), store.keep(b"<bad/>"), "0" * 64
    found = notation.svgs_of([good, bad, lost, "", good])
    assert calls == [[b"<good/>", b"<bad/>"]]
    assert found[good] == SVG and notation.drawn(bad) is None
    assert "could not be drawn: no." in found[bad]
    assert "missing" in found[lost] and "no notation" in found[""]
