"""The form in which a director says how a period's marks are made."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from standlight.programme.marking_terms import STEP_ROWS, form_of, terms_of
from standlight.programme.models import Ensemble, MarkingPeriod
from standlight.programme.queries.marks import marks_of
from standlight.programme.queries.marks_works import columns_of
from standlight.ratings import CONVERSIONS, LEVEL_NAMES, POLICIES, WAYS, MarkPolicy


@dataclass(frozen=True, slots=True)
class TypedField:
    """A field to type in: its name in the form, its label, what stands in it."""

    name: str
    label: str
    value: str


@dataclass(frozen=True, slots=True)
class PolicyChoice:
    """One policy to choose: its sentence, when it serves, and its numbers."""

    key: str
    name: str
    sentence: str
    about: str
    chosen: bool
    fields: tuple[TypedField, ...]
    has_weights: bool


@dataclass(frozen=True, slots=True)
class Choice:
    """One of a few."""

    key: str
    name: str
    chosen: bool


@dataclass(frozen=True, slots=True)
class StepFields:
    """One row of the school's table of symbols."""

    floor: TypedField
    symbol: TypedField


@dataclass(frozen=True, slots=True)
class PolicyPage:
    """The whole form; ``is_closed`` when nothing can be chosen any more."""

    ensemble_pk: int
    ensemble: str
    period_pk: int
    period: str
    is_closed: bool
    policies: tuple[PolicyChoice, ...]
    ways: tuple[Choice, ...]
    weights: tuple[TypedField, ...]
    conversions: tuple[Choice, ...]
    steps: tuple[StepFields, ...]
    percents: tuple[TypedField, ...]
    fewest_levels: str
    fewest_works: str
    with_writing: bool
    has_writing: bool
    line_key: str
    class_key: str


_FIELDS = {
    "n": ("{key}_n", "How many count", "3"),
    "of_last": ("{key}_of_last", "Of how many of the newest (empty: of all)", ""),
    "new_share": ("decaying_share", "What the newest counts, percent", "65"),
}
"""The numbers of a policy: name in the form, label, what stands there at first."""


def policy_page(
    ensemble: Ensemble, period: MarkingPeriod, typed: Mapping[str, str] | None = None
) -> PolicyPage:
    """The form as it is kept, or as it was ``typed`` when it could not be kept."""
    marks = marks_of(ensemble, period)
    terms = terms_of(marks.terms)
    form = form_of(terms) if typed is None else dict(typed)
    columns = columns_of(ensemble, period)
    return PolicyPage(
        ensemble.pk,
        ensemble.name,
        period.pk,
        period.name,
        marks.closed_at is not None,
        tuple(_policy(key, form, terms.policy) for key in POLICIES),
        _choices(WAYS, form.get("by", "")),
        tuple(
            TypedField(
                f"weight_{column.key}",
                column.title,
                form.get(f"weight_{column.key}", "1"),
            )
            for column in columns
        ),
        _choices(CONVERSIONS, form.get("conversion", "levels")),
        tuple(
            StepFields(
                TypedField(f"floor_{row}", "From", form.get(f"floor_{row}", "")),
                TypedField(f"symbol_{row}", "Symbol", form.get(f"symbol_{row}", "")),
            )
            for row in range(STEP_ROWS)
        ),
        tuple(
            TypedField(f"percent_{level}", name, form.get(f"percent_{level}", ""))
            for level, name in sorted(LEVEL_NAMES.items(), reverse=True)
        ),
        form.get("fewest_levels", ""),
        form.get("fewest_works", ""),
        form.get("with_writing") == "yes",
        any(not column.is_check for column in columns),
        form.get("line_key", ""),
        form.get("class_key", ""),
    )


def _policy(key: str, form: Mapping[str, str], kept: MarkPolicy) -> PolicyChoice:
    """One policy with its sentence, in the kept numbers where it is the kept one."""
    policy = POLICIES[key]
    fields = tuple(
        TypedField(name.format(key=key), label, form.get(name.format(key=key)) or first)
        for setting, (name, label, first) in _FIELDS.items()
        if setting in policy.settings
    )
    told = kept if kept.key == key else MarkPolicy(key, by=kept.by)
    return PolicyChoice(
        key,
        policy.name,
        told.sentence,
        policy.about,
        form.get("policy") == key,
        fields,
        "weights" in policy.settings,
    )


def _choices(table: Mapping[str, str], chosen: str) -> tuple[Choice, ...]:
    return tuple(Choice(key, name, key == chosen) for key, name in table.items())
