"""A period's terms: the policy, the weights of its checks, what counts. As kept, and as typed.

Kept data is read back strictly; what a director types answers with a sentence for each slip.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from standlight.errors import StandlightError
from standlight.ratings import (
    BY_CRITERION,
    CONVERSIONS,
    LEVEL_NAMES,
    PLAIN_POLICY,
    POLICIES,
    WAYS,
    Conversion,
    MarkPolicy,
    typed_number,
    typed_percents,
    typed_steps,
)

STEP_ROWS = 8
"""Rows of the form for a table of symbols: more symbols than any school's table we know."""

MOST_WEIGHT = 10.0
"""One check cannot count more than ten others; keeps slips of typing small (our choice)."""

LONGEST_KEY = 60
"""Characters of a key that the school's system gives."""


@dataclass(frozen=True, slots=True)
class Terms:
    """How a period's marks are made. ``weights`` are by column key, 1 where none is named.

    ``with_writing`` lets written work that a director gave levels count too. ``line_key`` and
    ``class_key`` are the school system's own keys for the period's mark and the class.
    """

    policy: MarkPolicy = PLAIN_POLICY
    weights: dict[str, float] = field(default_factory=dict)
    with_writing: bool = False
    line_key: str = ""
    class_key: str = ""

    @property
    def sentences(self) -> tuple[str, ...]:
        """The terms in words."""
        writing = (
            "Written work counts too, where the director gave levels, as a check does.",
            "Only playing and singing checks count.",
        )[not self.with_writing]
        return (*self.policy.sentences(), writing)


def data_of(terms: Terms) -> dict[str, Any]:
    """Plain data of ``terms``, as it is kept."""
    policy, table = terms.policy, terms.policy.conversion
    return {
        "key": policy.key,
        "by": policy.by,
        "n": policy.n,
        "of_last": policy.of_last,
        "new_share": policy.new_share,
        "fewest_levels": policy.fewest_levels,
        "fewest_works": policy.fewest_works,
        "conversion": {
            "kind": table.kind,
            "steps": [list(step) for step in table.steps],
            "percents": list(table.percents),
        },
        "weights": terms.weights,
        "with_writing": terms.with_writing,
        "line_key": terms.line_key,
        "class_key": terms.class_key,
    }


def terms_of(data: Mapping[str, Any]) -> Terms:
    """The terms of kept data; {} gives the plain ones.

    >>> terms_of(data_of(Terms(MarkPolicy("best_n", n=2)))).policy.n
    2
    """
    if not data:
        return Terms()
    table = data["conversion"]
    conversion = Conversion(
        table["kind"],
        tuple((float(floor), str(symbol)) for floor, symbol in table["steps"]),
        tuple(float(percent) for percent in table["percents"]),
    )
    names = ("key", "by", "n", "of_last", "new_share", "fewest_levels", "fewest_works")
    policy = MarkPolicy(**{name: data[name] for name in names}, conversion=conversion)
    return Terms(
        policy, dict(data["weights"]), data["with_writing"], data["line_key"], data["class_key"]
    )


def form_of(terms: Terms) -> dict[str, str]:
    """The terms as the form shows them: field name to text.

    >>> form_of(Terms())["policy"], form_of(Terms())["floor_0"]
    ('mean', '3.5')
    """
    policy, table = terms.policy, terms.policy.conversion
    form = {
        "policy": policy.key,
        "by": policy.by,
        f"{policy.key}_n": str(policy.n),
        f"{policy.key}_of_last": str(policy.of_last or ""),
        "decaying_share": f"{100 * policy.new_share:g}",
        "fewest_levels": str(policy.fewest_levels),
        "fewest_works": str(policy.fewest_works),
        "conversion": table.kind,
        "with_writing": "yes" if terms.with_writing else "",
        "line_key": terms.line_key,
        "class_key": terms.class_key,
    }
    for row, (floor, symbol) in enumerate(table.steps):
        form |= {f"floor_{row}": f"{floor:g}", f"symbol_{row}": symbol}
    for level, percent in zip(LEVEL_NAMES, table.percents, strict=False):
        form[f"percent_{level}"] = f"{percent:g}"
    return form | {f"weight_{key}": f"{weight:g}" for key, weight in terms.weights.items()}


def typed_terms(form: Mapping[str, str], columns: Iterable[tuple[str, str]]) -> Terms:
    """Terms as a director typed them; ``columns`` are (key, title) of the period's work.

    Raises ``StandlightError`` for the first slip, in a sentence that names the field.
    """
    key = form.get("policy", "")
    if key not in POLICIES:
        raise StandlightError("choose how levels become a mark")
    by = form.get("by", BY_CRITERION)
    if by not in WAYS:
        raise StandlightError("choose whether criteria or checks are put together first")
    settings = POLICIES[key].settings
    n = _whole(form, f"{key}_n", "how many count", 3) if "n" in settings else 3
    of_last = None
    if "of_last" in settings and form.get(f"{key}_of_last", "").strip():
        of_last = _whole(form, f"{key}_of_last", "of how many", n)
    share = _share(form) if "new_share" in settings else PLAIN_POLICY.new_share
    try:
        policy = MarkPolicy(
            key,
            by,
            n,
            of_last,
            share,
            _whole(form, "fewest_levels", "the fewest levels", PLAIN_POLICY.fewest_levels),
            _whole(form, "fewest_works", "the fewest checks", 1),
            typed_conversion(form),
        )
    except ValueError as slip:
        raise StandlightError(str(slip)) from slip
    weights = {
        column: _weight(form[f"weight_{column}"], title)
        for column, title in columns
        if form.get(f"weight_{column}", "").strip()
    }
    return Terms(
        policy,
        {column: weight for column, weight in weights.items() if weight != 1.0},
        form.get("with_writing") == "yes",
        _school_key(form, "line_key", "the key of the mark"),
        _school_key(form, "class_key", "the key of the class"),
    )


def typed_conversion(form: Mapping[str, str]) -> Conversion:
    """The school's table as typed; level words where nothing else is chosen."""
    kind = form.get("conversion", "levels")
    if kind not in CONVERSIONS:
        raise StandlightError("choose what a mark is printed as")
    if kind == "symbols":
        rows = range(STEP_ROWS)
        typed = [(form.get(f"floor_{row}", ""), form.get(f"symbol_{row}", "")) for row in rows]
        return Conversion(kind, typed_steps(typed))
    if kind == "percents":
        cells = [form.get(f"percent_{level}", "") for level in LEVEL_NAMES]
        return Conversion(kind, percents=typed_percents(cells))
    return Conversion()


def _whole(form: Mapping[str, str], name: str, what: str, otherwise: int) -> int:
    """A whole number of the form."""
    text = form.get(name, "").strip()
    if not text:
        return otherwise
    value = typed_number(text, what)
    if value != int(value) or not 1 <= value <= 40:
        raise StandlightError(f"“{text}” is no whole number from 1 to 40", where=what)
    return int(value)


def _share(form: Mapping[str, str]) -> float:
    """What the newest level counts, typed in percent."""
    percent = typed_number(form.get("decaying_share", "65"), "what the newest level counts")
    if not 5 <= percent <= 95:
        raise StandlightError("the newest level counts between 5 and 95 percent")
    return round(percent / 100.0, 4)


def _weight(text: str, title: str) -> float:
    """The weight of one check."""
    value = typed_number(text, f"the weight of {title}")
    if not 0 <= value <= MOST_WEIGHT:
        raise StandlightError(f"a weight lies between 0 and {MOST_WEIGHT:g}", where=title)
    return value


def _school_key(form: Mapping[str, str], name: str, what: str) -> str:
    """A key of the school's system."""
    key = form.get(name, "").strip()
    if len(key) > LONGEST_KEY:
        raise StandlightError(f"{what} has more than {LONGEST_KEY} characters")
    return key
