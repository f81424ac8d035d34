"""Issue 3's "done when": a band march and a symphony movement opened, three criteria chosen,
the reasons read, two passages changed (one dragged, one to another place), and all printed.

The scores are real ones (credit in tests/scores/CREDITS.md).
"""

from pathlib import Path

import pytest
from django.urls import NoReverseMatch, reverse

from standlight.criteria import CRITERIA
from standlight.programme.actions import folder
from standlight.programme.models import Casting, PlayingCheck, Seat, Section
from standlight.score import read_score
from tests.browser.conftest import DESK, PHONE, until
from tests.cast import add_musician

REAL = Path(__file__).resolve().parents[1] / "scores" / "real"
CHOSEN = ("rhythm", "dynamics", "articulation")
TOUCH_PX = 44
"""WCAG 2.2, success criterion 2.5.5: a target of 44 by 44 CSS pixels."""


def load(cast, name):
    """The score in the band's folder, with somebody on every part."""
    data = (REAL / name).read_bytes()
    sections = [
        Section.objects.create(
            ensemble=cast.band, name=part.name, instrument=part.instrument, order=10 + part.index
        )
        for part in read_score(data).parts
    ]
    for number, section in enumerate(sections):
        add_musician(cast.programme, section, f"3{number:03}", f"Given{number}", f"Name{number}")
    folder.confirm_owns_music(cast.director)
    piece = folder.add_score(cast.director, cast.band, data, name=name)
    parts = list(piece.parts.all())
    seats = Seat.objects.filter(section__in=sections).order_by("section__order")
    Casting.objects.filter(piece=piece).delete()
    Casting.objects.bulk_create(
        Casting(seat=seat, piece=piece, part=part)
        for seat, part in zip(seats, parts, strict=True)
    )
    return piece


def make_check(page, piece):
    """Three criteria chosen on the form; the check's page afterwards."""
    page.goto(f"/checks/make/{piece.pk}/")
    for criterion in CRITERIA:
        page.set_checked(f"[name=criteria][value={criterion}]", criterion in CHOSEN)
    page.get_by_role("button", name="Make the draft and find passages").click()
    page.get_by_role("heading", name="Passages").wait_for()
    return PlayingCheck.objects.latest("pk")


def open_part(page, row):
    line = page.locator(f"#passage-{row.pk}")
    line.locator("summary").first.click()
    line.locator("[data-handles]").wait_for()
    return line


def drag(page, handle, by_px):
    """Press on a handle, move it, let go."""
    handle.scroll_into_view_if_needed()
    box = handle.bounding_box()
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + by_px / 2, y, steps=3)
    page.mouse.move(x + by_px, y, steps=3)
    page.mouse.up()


@pytest.mark.parametrize(
    ("score", "n_parts", "n_least"),
    [("tenth_regiment_hall.mxl", 28, 24), ("beethoven_op21_1.mxl", 18, 16)],
    ids=["band march", "symphony movement"],
)
def test_passages_are_read_two_are_changed_and_all_printed(
    visitor, cast, score, n_parts, n_least
):
    piece = load(cast, score)
    page = visitor.open(size=DESK).pages[0]
    visitor.sign_in_director(page)
    check = make_check(page, piece)

    assert "a passage that asks about the same (demand " in page.locator(".fair").inner_text()
    lines = page.locator("details.part")
    assert lines.count() >= n_least
    assert lines.count() + page.locator(".none").count() == n_parts
    whys = page.locator("details.part .part-why").all_inner_texts()
    assert all("Rhythm: " in why and "Dynamics: " in why for why in whys)

    rows = list(
        check.passages.filter(first_measure__isnull=False).select_related("part").order_by(
            "part__index"
        )
    )
    dragged, moved = rows[0], next(row for row in rows[1:] if row.alternatives)

    line = open_part(page, dragged)
    line.locator(".notation svg").first.wait_for()
    unit = int(line.locator("[data-handles]").get_attribute("data-unit"))
    before = line.locator(".bars path").get_attribute("d")
    by = -2 if dragged.last_measure + 3 > len(piece.measures) else 2
    drag(page, line.locator("[data-end=last] .knob"), by * unit)
    printed = piece.measures[dragged.last_measure + by]["printed"]
    button = line.get_by_role("button", name=f"to {printed}", exact=False).last
    button.wait_for()
    last = line.locator("[data-end=last]")
    assert last.get_attribute("aria-valuetext").startswith(f"measure {printed}")
    until(page, lambda: line.locator(".bars path").get_attribute("d") != before)
    line.locator(".look").get_by_role("button").click()
    page.get_by_text("Moved.").wait_for()
    dragged.refresh_from_db()
    assert dragged.moved_by_hand
    assert dragged.printed.endswith(f" to {printed}")
    assert f"measures {dragged.printed}" in page.locator(f"#passage-{dragged.pk}").inner_text()

    line = open_part(page, moved)
    place = moved.alternatives[0]["printed"]
    line.get_by_role("button", name=f"Play {place} instead", exact=True).click()
    page.get_by_text("Moved.").wait_for()
    moved.refresh_from_db()
    assert (moved.printed, moved.moved_by_hand) == (place, True)

    page.get_by_role("link", name="Print passages").click()
    page.wait_for_url("**/print/**")
    assert page.locator(".sheet").count() == lines_with_music(check)
    try:
        address = reverse("check-pdf", args=[check.pk])
    except NoReverseMatch:
        pytest.skip("there is no PDF of a check here")
    pdf = page.request.get(address)
    assert pdf.ok and pdf.body().startswith(b"%PDF")


def lines_with_music(check):
    return check.passages.exclude(notation_digest="").count()


def test_a_part_opened_before_the_scripts_came_is_fetched_when_they_do(visitor, cast):
    piece = load(cast, "tenth_regiment_hall.mxl")
    context = visitor.open(size=PHONE)
    page = context.pages[0]
    visitor.sign_in_director(page)
    check = make_check(page, piece)
    row = check.passages.filter(first_measure__gt=4).select_related("part").first()
    held, released = [], []
    context.route(
        "**/htmx*.js", lambda route: route.continue_() if released else held.append(route)
    )
    page.goto(page.url, wait_until="commit")
    line = page.locator(f"#passage-{row.pk}")
    line.locator("summary").first.click()
    line.get_by_role("link", name=f"Open {row.part.name}").wait_for()
    until(page, lambda: held)
    assert line.locator("[data-handles]").count() == 0
    released.append(True)
    for route in held:
        route.continue_()
    line.locator("[data-handles]").wait_for()


def test_ends_move_by_keys_and_by_finger_on_a_phone(visitor, cast):
    piece = load(cast, "tenth_regiment_hall.mxl")
    page = visitor.open(size=PHONE).pages[0]
    visitor.sign_in_director(page)
    check = make_check(page, piece)
    row = check.passages.filter(first_measure__gt=4).select_related("part").first()
    line = open_part(page, row)
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
    for selector in ("[data-end=first] .grip", "[data-end=last] .grip", ".look button",
                     ".places-to-play button", "summary"):  # fmt: skip
        for one in line.locator(selector).all():
            box = one.bounding_box()
            assert min(box["width"], box["height"]) >= TOUCH_PX, (selector, box)

    first, last = line.locator("[data-end=first]"), line.locator("[data-end=last]")
    first.focus()
    page.keyboard.press("ArrowLeft")
    assert first.get_attribute("aria-valuenow") == str(row.first_measure - 1)
    page.keyboard.press("Shift+ArrowLeft")
    assert first.get_attribute("aria-valuenow") == str(row.first_measure - 2)
    assert last.get_attribute("aria-valuenow") == str(row.last_measure - 1)
    page.keyboard.press("End")  # no farther than the other end
    assert first.get_attribute("aria-valuenow") == str(row.last_measure - 1)
    page.keyboard.press("Home")
    assert first.get_attribute("aria-valuenow") == "0"
    line.locator(".look").get_by_role("button", name="Play 1 to").wait_for()

    band = line.locator("[data-band]")
    page.locator(f"#first-{row.pk}").select_option(index=row.first_measure)
    until(page, lambda: first.get_attribute("aria-valuenow") == str(row.first_measure))
    unit = int(line.locator("[data-handles]").get_attribute("data-unit"))
    drag(page, band, -2 * unit)
    assert first.get_attribute("aria-valuenow") == str(row.first_measure - 2)
    assert last.get_attribute("aria-valuenow") == str(row.last_measure - 3)
