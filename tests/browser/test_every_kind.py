"""Every kind of work from end to end: given, filled on a phone, read at the Desk, answered, read.

axe looks at the pages on the way.
"""

import pytest

from standlight.kinds import FIELD_TYPES, KINDS, standing_of
from standlight.programme.models import Sheet
from standlight.programme.queries.work_steps import steps_of
from tests.browser.axe import violations
from tests.browser.conftest import DESK, PHONE
from tests.browser.filling import FILLERS, fill_step
from tests.hearing_scene import RECORDING
from tests.programme.sheet_scene import give, ode

ANSWER = "I saw the place you mean. It is worth the work."


def given_out(cast, kind):
    """Work of ``kind`` with what it needs: a piece, a recording."""
    more = {}
    if "piece" in kind.needs:
        more["piece_pk"] = ode(cast).pk
    if "sound" in kind.needs:
        more |= {"sound": RECORDING.read_bytes(), "sound_name": "The ode"}
    return give(cast, kind.key, title=f"Our {kind.name.lower()}", **more)


def musicians_page(visitor, cast):
    page = visitor.open("phone", size=PHONE).pages[0]
    visitor.sign_in(page, cast.musician)
    return page


def directors_page(visitor):
    page = visitor.open("desk", size=DESK).pages[0]
    visitor.sign_in_director(page)
    return page


def is_too_wide(page):
    """True when the page scrolls sideways."""
    return page.evaluate(
        "document.documentElement.scrollWidth > document.documentElement.clientWidth"
    )


@pytest.mark.parametrize("key", KINDS)
def test_a_kind_goes_from_the_director_to_the_musician_and_back(visitor, cast, key):
    assignment = given_out(cast, KINDS[key])
    step = steps_of(assignment)[0]
    phone = musicians_page(visitor, cast)
    phone.get_by_text(assignment.title).first.wait_for()
    phone.get_by_role("link", name="Begin").first.click()
    phone.wait_for_url(f"**/my/work/{assignment.pk}/{step.key}/")
    answered = fill_step(phone, step)
    assert not is_too_wide(phone)
    assert violations(phone) == ()
    phone.get_by_role("button", name="Send", exact=True).click()
    phone.wait_for_url(f"**/my/work/{assignment.pk}/")
    sheet = Sheet.objects.get(assignment=assignment)
    assert sheet.sent_at is not None
    assert set(answered) == {question for question, answer in sheet.answers.items() if answer}
    assert standing_of(step, sheet.answers).complete

    desk = directors_page(visitor)
    desk.goto("/desk/reading/")
    desk.get_by_role("link", name=assignment.title).click()
    desk.wait_for_url(f"**/desk/reading/{assignment.pk}/{sheet.key}/")
    prompts = {field.key: field.prompt for field in step.fields}
    shown = desk.locator(".answers").inner_text()
    assert [prompts[question] for question in answered if prompts[question] not in shown] == []
    assert not is_too_wide(desk)
    assert violations(desk) == ()
    desk.get_by_label("About what you read").fill(ANSWER)
    desk.locator("[data-send]").click()
    desk.wait_for_url(f"**/desk/reading/{assignment.pk}/all/")

    phone.goto("/my/")
    phone.get_by_role("heading", name="Came back to you").wait_for()
    phone.get_by_role("link", name=assignment.title).first.click()
    phone.get_by_text("New answer").wait_for()
    phone.locator(".fresh a").first.click()
    phone.get_by_text(ANSWER).wait_for()
    assert violations(phone) == ()
    sheet.reply.refresh_from_db()
    assert sheet.reply.seen_at is not None


def test_the_filler_knows_every_type_but_the_recording():
    assert set(FIELD_TYPES) - set(FILLERS) == {"recording"}


def sent_by_hand(phone, assignment, step):
    """The first step of ``assignment``, filled and sent in the browser."""
    phone.goto(f"/my/work/{assignment.pk}/{step.key}/")
    fill_step(phone, step)
    phone.get_by_role("button", name="Send", exact=True).click()
    phone.wait_for_url(f"**/my/work/{assignment.pk}/")


def test_axe_finds_nothing_on_the_lists_the_stacks_and_the_editors(visitor, cast):
    study = given_out(cast, KINDS["score_study"])
    finds = give(cast, "finds", due_in=None)
    phone = musicians_page(visitor, cast)
    for assignment in (study, finds):
        sent_by_hand(phone, assignment, steps_of(assignment)[0])
    found = {}
    for path in ("/my/", "/my/work/", f"/my/work/{study.pk}/"):
        phone.goto(path)
        found[path] = violations(phone)
    desk = directors_page(visitor)
    step = steps_of(study)[0].key
    for path in (
        "/today/", "/desk/reading/", f"/desk/reading/{study.pk}/all/",
        f"/desk/reading/{study.pk}/together/{step}/", f"/desk/reading/{study.pk}/own/{step}/",
        f"/desk/reading/wall/{cast.band.pk}/", "/desk/reading/lines/",
        "/desk/reading/search/?q=count", "/work/", "/work/give/",
        f"/work/give/{cast.band.pk}/score_study/", f"/work/{study.pk}/", "/work/kinds/",
        "/work/kinds/new/", "/work/kinds/of/skill_project/",
    ):  # fmt: skip
        assert desk.goto(path).ok, path
        found[path] = violations(desk)
    assert {path: lines for path, lines in found.items() if lines} == {}
