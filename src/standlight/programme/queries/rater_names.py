"""The names behind a study's keys: raters, sections, ensembles and tasks, for one reader."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from standlight.criteria import CRITERIA
from standlight.programme.models import Account, Ensemble, GuestLink, PlayingCheck, Section
from standlight.programme.queries.given_ratings import (
    ENSEMBLE,
    GUEST_RATER,
    RATER,
    SECTION,
    TASK,
)


@dataclass(frozen=True, slots=True)
class TaskName:
    """A task: the title of the check that first asked it, and its ensemble."""

    title: str
    ensemble: str


@dataclass(frozen=True, slots=True)
class Names:
    """Key to name; ``me`` is the reader's own key. Somebody who has left has a plain word."""

    me: str
    raters: Mapping[str, str]
    sections: Mapping[str, str]
    ensembles: Mapping[str, str]
    tasks: Mapping[str, TaskName]

    def rater(self, key: str) -> str:
        """A rater as the reader calls them.

        >>> names = Names("a1", {"a2": "Ruben Asher"}, {}, {}, {})
        >>> names.rater("a1"), names.rater("a2"), names.rater("a9")
        ('you', 'Ruben Asher', 'somebody who has left')
        """
        return "you" if key == self.me else self.raters.get(key, "somebody who has left")

    def section(self, key: str) -> str:
        """A section with its ensemble."""
        return self.sections.get(key, "a section that is gone")

    def ensemble(self, key: str) -> str:
        """An ensemble."""
        return self.ensembles.get(key, "a group that is gone")

    def task(self, key: str) -> TaskName:
        """A task."""
        return self.tasks.get(key, TaskName("A check that is gone", ""))


def criterion_name(key: str, all_together: str = "all criteria together") -> str:
    """A criterion inside a sentence; an empty key is all of them.

    >>> criterion_name("rhythm"), criterion_name("")
    ('rhythm', 'all criteria together')
    """
    if not key:
        return all_together
    return CRITERIA[key].name.lower() if key in CRITERIA else key


def names_for(account: Account) -> Names:
    """The names of a programme; what of it is read, the study has decided. Five queries."""
    programme = account.programme_id
    directors = Account.objects.filter(programme=programme, role=Account.DIRECTOR)
    sections = Section.objects.filter(ensemble__programme=programme).select_related("ensemble")
    guests = GuestLink.objects.filter(check_row__ensemble__programme=programme).order_by()
    checks = PlayingCheck.objects.filter(ensemble__programme=programme).order_by()
    return Names(
        me=f"{RATER}{account.pk}",
        raters={
            **{f"{RATER}{pk}": name for pk, name in directors.values_list("pk", "shown_name")},
            **{f"{GUEST_RATER}{pk}": name for pk, name in guests.values_list("pk", "label")},
        },
        sections={f"{SECTION}{row.pk}": f"{row.name}, {row.ensemble.name}" for row in sections},
        ensembles={
            f"{ENSEMBLE}{pk}": name
            for pk, name in Ensemble.objects.filter(programme=programme).values_list("pk", "name")
        },
        tasks={
            f"{TASK}{pk}": TaskName(title, ensemble)
            for pk, title, ensemble in checks.values_list("pk", "title", "ensemble__name")
        },
    )
