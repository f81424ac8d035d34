"""What the tests of Marks begin with."""

import datetime

import pytest
from django.utils import timezone

from standlight.programme.actions.desk import rate
from standlight.programme.actions.marks import add_period
from tests.programme.desk_scene import ALL_THREE, make_scene, send


@pytest.fixture
def rated(cast):
    """The band's check, due two days ago: one of its two musicians is rated, one sent nothing."""
    made = make_scene(cast, days_to_due=-2)
    rate(cast.director, send(made, cast.musician), ALL_THREE)
    return made


@pytest.fixture
def period(cast):
    """Thirty days that end today."""
    today = timezone.localdate()
    return add_period(
        cast.director, name="Period 1", starts_on=today - datetime.timedelta(30), ends_on=today
    )
