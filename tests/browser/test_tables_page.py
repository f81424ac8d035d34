"""The tables at the width of a phone and of a laptop: nothing runs out of the page, keys work."""

import pytest

from standlight.programme.actions.tables import keep_table
from standlight.programme.models import EditedTable, Section
from tests.browser.conftest import DESK, PHONE


@pytest.fixture
def band(cast):
    """A few sections more, two cells changed."""
    for order, (name, instrument) in enumerate(
        [("Flute", "Flute"), ("Alto saxophone", "Alto saxophone in Eb"), ("Horn", "Horn in F"),
         ("Bells", "Glockenspiel / bells"),
         ("Trumpet", "Trumpet / cornet / flugelhorn in Bb"),
         ("Contrabass clarinet", "Contrabass clarinet in Bb (treble clef)")], start=5,
    ):  # fmt: skip
        Section.objects.create(ensemble=cast.band, name=name, instrument=instrument, order=order)
    keep_table(cast.director, "ranges", {"Flute": {"school_high_midi": 91}})
    keep_table(cast.director, "weights", {"leaps": {"weight": 2}})
    keep_table(cast.director, "grades", {"1": {"most_fifths": 2, "shortest_value_quarters": "1"}})
    return cast.band


def signed_in(visitor, size):
    page = visitor.open(size=size).new_page()
    visitor.sign_in_director(page)
    return page


@pytest.mark.parametrize("size", [PHONE, DESK], ids=["phone", "laptop"])
def test_no_table_runs_out_of_the_page_and_a_change_goes_back(visitor, band, size):
    page = signed_in(visitor, size)
    for name in ("ranges", "grades", "weights"):
        page.goto(f"/folder/tables/{name}/")
        room, wide = page.evaluate("[innerWidth, document.scrollingElement.scrollWidth]")
        assert wide <= room, name
        if size is PHONE:
            heights = page.eval_on_selector_all(
                "main form button, main form input:not([type=radio]):not([type=hidden]), "
                "main form select, main form textarea, .doses label",
                "all => all.filter(one => one.checkVisibility())"
                ".map(one => one.getBoundingClientRect().height)",
            )
            assert min(heights) >= 44, name  # visual.md: targets 44 px on phones
    page.goto("/folder/tables/ranges/")
    low = page.get_by_label("Alto saxophone in Eb, school range, lowest note")
    low.fill("C4")
    low.press("Enter")  # the first button of the form saves; none puts anything back
    page.get_by_text("Ranges saved: 2 cells of your own.").wait_for()
    page.get_by_role("button", name="Put back Flute").click()
    page.get_by_text("Ranges saved: 1 cell of your own.").wait_for()
    # Written C4 sounds a major sixth lower on an E-flat alto: E-flat 3 (MIDI 51).
    kept = EditedTable.objects.get(name="ranges").rows
    assert kept == {"Alto saxophone in Eb": {"school_low_midi": 51}}
