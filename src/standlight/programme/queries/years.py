"""Which school year it is, so that lists begin with the present one."""

from __future__ import annotations

import datetime

from standlight.programme.models import SchoolYear


def year_begins(programme_pk: int, today: datetime.date) -> datetime.date | None:
    """First day of the school year that has begun last; ``None`` where none is known.

    What was due before it belongs to an earlier year. One query.
    """
    return (
        SchoolYear.objects.filter(programme=programme_pk, starts_on__lte=today)
        .order_by("-starts_on")
        .values_list("starts_on", flat=True)
        .first()
    )
