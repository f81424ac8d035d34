"""Who may see a row: one rule a model, asked through ``visible_to(account)``.

A director sees the ensembles they direct; the lead director sees the whole
programme; a musician sees what the model's rule grants. Everyone else sees none, and a
page answers 404, so that a row's existence is not told either.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Self

from django.contrib.auth.models import AbstractBaseUser
from django.db import models
from django.db.models import Q


def nobody(account: AbstractBaseUser) -> Q:
    """The rule of rows that no musician sees."""
    return Q(pk__in=[])


@dataclass(frozen=True, slots=True)
class Sight:
    """Lookup paths from a model to its ``programme`` and ``ensemble``, and the musician's rule.

    ``second_adult`` rows are seen too by who reads all writing; only rows that nobody changes are.
    ``own`` leads to the one director whose row it is: beside the lead nobody else sees it.
    """

    programme: str
    ensemble: str
    musician: Callable[[AbstractBaseUser], Q] = nobody
    second_adult: bool = False
    own: str = ""

    @property
    def directors(self) -> str:
        """Lookup path to the directors who see a row beside the lead."""
        return self.own or (f"{self.ensemble}__directors" if self.ensemble else "directors")


class SeenQuerySet(models.QuerySet):
    """A queryset that can narrow itself to what one account may see."""

    def visible_to(self, account: Any) -> Self:
        """Only the rows ``account`` may see by the model's ``SIGHT``; none when signed out."""
        if not getattr(account, "is_authenticated", False):
            return self.none()
        sight: Sight = self.model.SIGHT
        if account.is_director:
            rule = Q(**{sight.programme: account.programme_id})
            if not (account.is_lead or (sight.second_adult and account.reads_writing)):
                rule &= Q(**{sight.directors: account})
            return self.filter(pk__in=self.model._default_manager.filter(rule).values("pk"))
        if account.is_musician:
            rule = sight.musician(account)
            return self.filter(pk__in=self.model._default_manager.filter(rule).values("pk"))
        return self.none()


class SeenModel(models.Model):
    """A row with a sight rule; every model a page reaches is one."""

    SIGHT: Sight
    objects = SeenQuerySet.as_manager()

    class Meta:
        """Only a base."""

        abstract = True
