"""A study of the cast's levels, laid down by hand from the ratings room's own values."""

import datetime

from django.utils import timezone

from standlight.programme.actions.studies import review_as_json
from standlight.programme.models import MusicianGrowth, RatingsStudy
from standlight.ratings.growth_values import GrowthLine, GrowthPoint, ReliableChange, Slope
from standlight.ratings.self_view import SelfView
from standlight.ratings.task_review import TaskReview

FIRST_DAY = datetime.date(2026, 9, 1)
RISE = Slope(2.0, 2.9, 1.8, 0.6, 3.0)


def points(*levels, start=0.5, apart=30.0, task="c0", first_take=0):
    return tuple(
        GrowthPoint(start + apart * n, task, f"t{first_take + n}", level, level, level - 0.6,
                    level + 0.6, 1)
        for n, level in enumerate(levels)
    )  # fmt: skip


def line(musician, *levels, state="rising", criterion="", ensemble=None, **more):
    given = {
        "instrument": "Clarinet in Bb", "pooled": RISE, "unpooled": RISE,
        "change": ReliableChange(2.0, 3.0, 1.0, 0.2, 1.8, 2.4, True), "because": "",
        "anchored": True, "start": 0.5, "task": "c0", "first_take": 0, **more,
    }  # fmt: skip
    start, task, first = (given.pop(name) for name in ("start", "task", "first_take"))
    return GrowthLine(
        student=f"m{musician.pk}", ensemble=f"e{ensemble.pk}" if ensemble else "",
        criterion=criterion, points=points(*levels, start=start, task=task, first_take=first),
        state=state, **given,
    )  # fmt: skip


def own_view(musician, state, criterion="", n=6, trend=None, ensemble=None, takes=()):
    place = f"e{ensemble.pk}" if ensemble else ""
    return SelfView(
        f"m{musician.pk}", place, criterion, n, 0.5, 0.1, 0.9, 0.4, trend, state, tuple(takes)
    )


def task(check, **more):
    facts = {
        "n_takes": 12, "n_musicians": 11, "hardness_points": 0.34, "low": 0.1, "high": 0.6,
        "n_compared": 3, "tells": "well", "correlation": 0.5, "correlation_low": 0.1,
        "correlation_high": 0.8, "level_counts": ((1, 0), (2, 6), (3, 20), (4, 10)),
        "unused": (1,), "minutes": None, "added": 0.12, "added_a_minute": None, "remarks": (),
        **more,
    }  # fmt: skip
    return TaskReview(task=f"c{check.pk}", **facts)


def make_study(programme, **body):
    """A study with these parts of a body; what is not given is empty."""
    parts = (
        "statements", "refusals", "contrasts", "month", "impressions", "steadiness", "drifts",
        "joins", "tasks", "remarks",
    )  # fmt: skip
    whole = {name: review_as_json(body.get(name, ())) for name in parts}
    whole["growth"] = {
        name: review_as_json(body.get(name, ())) for name in ("groups", "sections", "remarks")
    }
    return RatingsStudy.objects.create(
        programme=programme, method="1", n_levels=120, first_day=FIRST_DAY, state="x", body=whole,
        made_at=timezone.make_aware(datetime.datetime(2026, 11, 26, 18, 40)),
    )  # fmt: skip


def grow(study, musician, ensemble, *lines, self_views=()):
    """The musician's growth in an ensemble, as the study would keep it."""
    body = {"lines": review_as_json(lines), "self_views": review_as_json(self_views)}
    return MusicianGrowth.objects.create(
        study=study, musician=musician, ensemble=ensemble, body=body
    )
