"""The cast's year: ten months around a winter concert, for tests of Season."""

from datetime import timedelta

from django.utils import timezone

from standlight.programme.actions import season as acts
from standlight.programme.models import ConcertCycle

TODAY = timezone.localdate()
FIRST = TODAY - timedelta(days=TODAY.weekday())
LAST = FIRST + timedelta(weeks=36, days=4)


def begun(cast, hours=5):
    """The lead's year from this Monday on; the band's concert is on its 60th day."""
    cast.cycle.starts_on, cast.cycle.concert_on = FIRST, FIRST + timedelta(days=59)
    cast.cycle.save()
    ConcertCycle.objects.create(
        ensemble=cast.choir, name="Winter concert", starts_on=FIRST,
        concert_on=FIRST + timedelta(days=52),
    )  # fmt: skip
    return acts.begin_plan(cast.director, starts_on=FIRST, ends_on=LAST, hours=hours)


def drawn(cast, minutes=300):
    """The same year with its plan; ``minutes`` of review a week."""
    plan = begun(cast, minutes / 60)
    acts.draw_up(plan, FIRST)
    plan.refresh_from_db()
    return plan
