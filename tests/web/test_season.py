"""Season's pages: what a director reads and presses, who opens them, slips told in place."""

from datetime import timedelta

import pytest
from django.urls import reverse
from icalendar import Calendar

from standlight.programme.models import ConcertCycle, SeasonDays, SeasonItem, SeasonPlan
from tests.programme.season_scene import FIRST, LAST, begun, drawn
from tests.web.scene import paper, sign_in

pytestmark = pytest.mark.django_db


def day(value):
    return value.isoformat()


def text_of(reply):
    return " ".join(reply.content.decode().split())


def test_a_year_is_begun_framed_and_drawn_up_by_forms_alone(client, cast):
    cast.cycle.starts_on, cast.cycle.concert_on = FIRST, FIRST + timedelta(days=59)
    cast.cycle.save()
    sign_in(client, cast.director)
    page = text_of(client.get(reverse("season")))
    assert "Begin the year" in page
    begin = {"starts_on": day(FIRST), "ends_on": day(LAST), "hours": "4.5"}
    reply = client.post(reverse("season-begin"), begin, follow=True)
    assert "Calendar and hours" in text_of(reply)
    assert SeasonPlan.objects.get().review_minutes == 270
    reply = client.post(reverse("season-draw"), follow=True)
    assert "The plan is drawn up." in text_of(reply)
    assert "Check before the concert" in text_of(reply)
    reply = client.post(reverse("season-draw"), follow=True)
    assert "Nothing had to move" in text_of(reply)


@pytest.mark.parametrize(
    ("cells", "said"),
    [
        ({"hours": "many"}, "is no number"),
        ({"hours": "nan"}, "is no number"),
        ({"ends_on": ""}, "first and its last day"),
        ({"starts_on": day(LAST), "ends_on": day(FIRST)}, "ends before it begins"),
    ],
)
def test_a_year_that_cannot_be_comes_back_as_typed(client, cast, cells, said):
    sign_in(client, cast.director)
    begin = {"starts_on": day(FIRST), "ends_on": day(LAST), "hours": "4.5"} | cells
    reply = client.post(reverse("season-begin"), begin)
    assert reply.status_code == 422
    assert said in text_of(reply)
    assert f'value="{begin["hours"]}"' in text_of(reply)
    assert not SeasonPlan.objects.exists()


def test_zero_hours_are_told_with_hours_that_would_do_and_no_plan_is_offered(client, cast):
    begun(cast, hours=0)
    sign_in(client, cast.director)
    page = text_of(client.get(reverse("season")))
    assert "You have no hours a week" in page
    assert "needs about 0.5 hours in each week" in page
    assert "Draw up a plan" not in page
    reply = client.post(reverse("season-draw"), follow=True)
    assert "no plan yet" in text_of(reply)
    assert not SeasonItem.objects.exists()


def test_a_cycle_with_a_slip_stays_as_typed_with_the_fix_beside_it(client, cast):
    begun(cast)
    sign_in(client, cast.director)
    address = reverse("season-cycle", args=[cast.band.pk])
    cells = {"name": "May concert", "starts_on": day(FIRST + timedelta(120)), "concert_on": ""}
    reply = client.post(address, cells)
    page = text_of(reply)
    assert reply.status_code == 422
    assert "Not saved. Concert Band, May concert: there is no concert day. Thursday" in page
    assert 'value="May concert"' in page
    cells |= {"starts_on": day(FIRST + timedelta(50)), "concert_on": day(FIRST + timedelta(130))}
    page = text_of(client.post(address, cells))
    assert "begins before the concert of Winter concert. Let it begin on" in page
    cells |= {"starts_on": day(FIRST + timedelta(61))}
    client.post(address, cells)
    made = ConcertCycle.objects.get(name="May concert")
    client.post(address, cells | {"cycle": made.pk, "name": "June concert"})
    assert ConcertCycle.objects.get(pk=made.pk).name == "June concert"


def test_days_hours_and_how_much_are_saved_or_refused_in_place(client, cast):
    plan = begun(cast)
    sign_in(client, cast.director)
    days = {"sort": "closed", "first": day(FIRST + timedelta(14)), "last": "", "name": "Fair"}
    assert "Saved." in text_of(client.post(reverse("season-days"), days, follow=True))
    (row,) = plan.days.all()
    assert (row.first, row.last, row.name) == (FIRST + timedelta(14), row.first, "Fair")
    reply = client.post(reverse("season-days"), days | {"sort": "festival"})
    assert (reply.status_code, "which ensemble plays" in text_of(reply)) == (422, True)
    client.post(reverse("season-days-drop", args=[row.pk]))
    assert not plan.days.exists()
    year = {"starts_on": day(FIRST), "ends_on": day(LAST), "hours": "6", "musician_minutes": "50"}
    client.post(reverse("season-frame"), year)
    plan.refresh_from_db()
    assert (plan.review_minutes, plan.musician_minutes) == (360, 50)
    reply = client.post(reverse("season-frame"), year | {"musician_minutes": "0"})
    assert (reply.status_code, "from 1 to 600" in text_of(reply)) == (422, True)
    page = client.get(reverse("season-frame"))
    fields = {
        f"often:{one.key}": one.often for one in page.context["page"].held
    } | {f"review:{one.key}": one.review for one in page.context["page"].minutes} | {
        f"asked:{one.key}": one.asked for one in page.context["page"].minutes
    }  # fmt: skip
    client.post(reverse("season-terms"), fields | {"often:acts": "3"})
    plan.refresh_from_db()
    assert plan.terms["often"]["acts"] == 3
    reply = client.post(reverse("season-terms"), fields | {"often:acts": "no"})
    assert (reply.status_code, "is no number for how often" in text_of(reply)) == (422, True)


def test_a_piece_of_work_is_moved_kept_and_lightened_without_a_script(client, cast):
    plan = drawn(cast)
    item = plan.items.filter(key=f"{cast.band.pk}/year/music/1").get()
    sign_in(client, cast.director)
    address = reverse("season-item", args=[item.pk])
    page = client.get(address)
    later = page.context["page"].later
    reply = client.post(reverse("season-item-move", args=[item.pk]), {"monday": day(later)},
                        follow=True)  # fmt: skip
    assert "Moved, and kept there." in text_of(reply)
    item.refresh_from_db()
    assert (item.monday, item.pinned) == (later, True)
    client.post(reverse("season-item-pin", args=[item.pk]), {"pinned": "no"})
    client.post(reverse("season-item-lighten", args=[item.pk]), {"share": "50", "each": "0.5"})
    item.refresh_from_db()
    assert (item.pinned, item.share, item.review_minutes) == (False, 0.5, 0.5)
    assert "1 of 2 musicians, 30 seconds each: about 1 minute of yours" in text_of(
        client.get(address)
    )
    for cells, said in (
        ({"share": "0", "each": ""}, "between 1 and 100"), ({"share": "x"}, "is no number"),
        ({"share": "50", "each": "900"}, "from 0 to 60"),
    ):  # fmt: skip
        reply = client.post(reverse("season-item-lighten", args=[item.pk]), cells, follow=True)
        assert said in text_of(reply)
    for monday in ("", "soon", day(LAST + timedelta(90))):
        move = reverse("season-item-move", args=[item.pk])
        reply = client.post(move, {"monday": monday}, follow=True)
        assert "no week was chosen" in text_of(reply) or "not in the year" in text_of(reply)
    item.refresh_from_db()
    assert item.monday == later


def test_a_lost_week_is_said_by_a_form_and_taken_back_by_another(client, cast):
    plan = drawn(cast)
    sign_in(client, cast.director)
    monday = plan.items.filter(key__endswith="/acts/1").first().monday
    reply = client.post(reverse("season-lose"), {"monday": day(monday)}, follow=True)
    page = text_of(reply)
    assert "moved;" in page
    assert "Lost week" in page
    assert not plan.items.filter(monday=monday).exists()
    lost = plan.days.get(sort=SeasonDays.LOST)
    client.post(reverse("season-days-drop", args=[lost.pk]), {"to": "season"})
    assert not plan.days.exists()
    reply = client.post(reverse("season-lose"), {"monday": "never"}, follow=True)
    assert "no week was chosen" in text_of(reply)


def test_an_overload_is_told_with_ways_that_one_press_takes(client, cast):
    plan = drawn(cast, minutes=2)
    sign_in(client, cast.director)
    reply = client.get(reverse("season"))
    page = text_of(reply)
    assert "Too many hours" in page
    assert "hours of your 0.1" in page
    assert "infeasible" not in page
    (way, *_) = [way for over in reply.context["page"].overloads for way in over.ways
                 if way.code == "shorten"]  # fmt: skip
    assert way.words.rstrip(".") in page
    client.post(reverse("season-item-lighten", args=[way.item_pk]),
                {"share": "100", "each": f"{way.each:.2f}", "to": "season"})  # fmt: skip
    assert plan.items.get(pk=way.item_pk).review_minutes == pytest.approx(way.each)


def test_real_work_is_made_from_the_plan(client, cast):
    plan = drawn(cast)
    sign_in(client, cast.director)
    item = plan.items.filter(key=f"{cast.band.pk}/year/music/1").get()
    reply = client.post(reverse("season-item-give", args=[item.pk]), {"title": "Music at home"},
                        follow=True)  # fmt: skip
    assert "The draft is made." in text_of(reply)
    assert "Music at home" in text_of(client.get(reverse("season-item", args=[item.pk])))
    check = paper(cast)
    early = plan.items.filter(key__contains="early_check", ensemble=cast.band).first()
    page = text_of(client.get(reverse("season-item", args=[early.pk])))
    assert "A check of Paper piece" in page
    client.post(reverse("season-item-check", args=[early.pk]), {"check": check.pk})
    assert plan.items.get(pk=early.pk).check_row == check


def test_the_calendar_file_is_one_that_calendars_read(client, cast):
    plan = drawn(cast)
    sign_in(client, cast.director)
    reply = client.get(reverse("season-file"))
    assert reply["Content-Type"] == "text/calendar; charset=utf-8"
    events = [one for one in Calendar.from_ical(reply.content).walk() if one.name == "VEVENT"]
    # Every item has its week here, and two concerts stand beside them.
    assert len(events) == plan.items.count() + 2


def test_only_the_planner_and_the_lead_open_a_plan(client, cast):
    plan = drawn(cast)
    item = plan.items.first()
    days = SeasonDays.objects.create(plan=plan, sort="closed", first=FIRST, last=FIRST)
    addresses = [
        reverse("season-item", args=[item.pk]), reverse("season-item-move", args=[item.pk]),
        reverse("season-item-pin", args=[item.pk]), reverse("season-item-give", args=[item.pk]),
        reverse("season-item-lighten", args=[item.pk]), reverse("season-days-drop", args=[days.pk]),
        reverse("season-item-check", args=[item.pk]),
    ]  # fmt: skip
    others = (cast.second_director, cast.outsider_director, cast.musician.account,
              cast.outsider_musician.account)  # fmt: skip
    for who in others:
        sign_in(client, who)
        for address in addresses:
            assert client.post(address).status_code in (404, 405), (who, address)
        assert client.get(addresses[0]).status_code == 404
        # They have no year of their own, so there is nothing to draw up or to take home.
        for name in ("season-draw", "season-lose", "season-days", "season-terms"):
            assert client.post(reverse(name)).status_code == 404
        for name in ("season-file", "season-frame"):
            assert client.get(reverse(name)).status_code == 404
    assert plan.days.exists()
    for who in (cast.musician.account, cast.outsider_musician.account):
        sign_in(client, who)
        assert client.get(reverse("season")).status_code == 404
        assert client.post(reverse("season-begin")).status_code == 404
    client.logout()
    assert "sign-in" in client.get(reverse("season"))["Location"]


def test_a_second_directors_own_plan_leaves_the_leads_alone(client, cast):
    plan = drawn(cast)
    sign_in(client, cast.second_director)
    begin = {"starts_on": day(FIRST), "ends_on": day(LAST), "hours": "3"}
    client.post(reverse("season-begin"), begin)
    address = reverse("season-cycle", args=[cast.choir.pk])
    assert client.post(address, {"name": "x"}).status_code == 404
    client.post(reverse("season-draw"))
    own = SeasonPlan.objects.get(owner=cast.second_director)
    assert set(own.items.values_list("ensemble", flat=True)) == {cast.band.pk}
    assert plan.items.count() == SeasonItem.objects.count() - own.items.count()
