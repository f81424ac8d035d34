"""What speaks for a group, and which wishes cannot hold, in a director's words: tables of codes."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from types import MappingProxyType

from standlight.planning import Broken, CannotHold, Fixes, Reason
from standlight.planning.group_values import (
    APART_INSIDE,
    HELPER,
    NO_WAY,
    TOO_LARGE,
    TOO_MANY_APART,
)
from standlight.programme.phrases import listed
from standlight.programme.queries.level_amounts import about_words

PARTS_CHOICES: Mapping[str, str] = MappingProxyType(
    {
        "mixed": "Different parts in each group (to talk)",
        "same": "The same part together (sectionals)",
        "any": "It does not matter",
    }
)
"""The ways to treat parts, as a form offers them."""

ROLE_WORDS: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        HELPER: ("helper", "play or sing it once for the others when they ask"),
        "starter": ("starter", "read the question out and ask who begins"),
        "scribe": ("scribe", "write down what you all agree on, and what you do not"),
        "timekeeper": ("timekeeper", "say when half the time is gone, and when two minutes are "
                       "left"),
        "speaker": ("speaker", "tell everybody what your group found"),
    }
)  # fmt: skip
"""A role's name and what to do, as it is said to a musician (common practice, no source)."""

LEVEL_NEAR = 0.15
"""A group's mean this near everybody's is told as the same: under a tenth of a level or so."""


def _near(reason: Reason) -> str:
    """How a group's levels stand beside everybody's."""
    known = "" if reason.n == reason.of else f" ({reason.n} of {reason.of} have levels)"
    if abs(reason.value) < LEVEL_NEAR:
        return f"Levels as in the whole ensemble{known}."
    side = "above" if reason.value > 0 else "below"
    return f"As a group {about_words(reason.value)} {side} the whole ensemble{known}."


def _new(reason: Reason) -> str:
    """How many were together before."""
    if reason.n == reason.of:
        return "Nobody here was together in the groups before."
    old = reason.of - reason.n
    return f"{old} of {reason.of} pairs were together in the groups before."


def _differ(reason: Reason) -> str:
    """How many different answers there are."""
    if not reason.of or reason.of == 1:
        return "Only one of them has answered the question."
    if reason.n == 1:
        return f"The {reason.of} who answered gave the same answer."
    return f"{reason.n} different answers among the {reason.of} who answered."


def _same(reason: Reason) -> str:
    """How many have the same part."""
    if reason.n == reason.of:
        return "All on the same part."
    return f"{reason.n} of {reason.of} on the same part."


REASON_SENTENCES: Mapping[str, Callable[[Reason], str]] = MappingProxyType(
    {
        "parts_mixed": lambda one: (
            f"{one.n} different parts." if one.n > 1 else "All on the same part."
        ),
        "parts_same": _same,
        "answers_differ": _differ,
        "maps_differ": lambda one: f"Their pins lie {one.value:g} seconds apart on average.",
        "levels_near": _near,
        "new_together": _new,
    }
)
"""Code of a reason to its sentence; wishes are never among them."""


def reason_sentences(reasons: Sequence[Reason]) -> tuple[str, ...]:
    """What speaks for a group.

    >>> reason_sentences((Reason("parts_mixed", 3, 4), Reason("levels_near", 4, 4, 0.3)))
    ('3 different parts.', 'As a group about a third of a level above the whole ensemble.')
    """
    return tuple(REASON_SENTENCES[one.code](one) for one in reasons)


def broken_sentence(broken: Broken, names: Mapping[str, str], group: int) -> str:
    """A wish that does not hold in these groups; ``group`` is where two to be apart sit."""
    who = listed([names[key] for key in broken.members])
    if broken.apart:
        return f"{who} are to be kept apart, and both sit in group {group}."
    return f"{who} are to be kept together, and do not sit in one group."


CANNOT_SENTENCES: Mapping[str, Callable[[str, int], str]] = MappingProxyType(
    {
        TOO_LARGE: lambda who, n: (
            f"{who} are all to be kept together. That is {n}, more than a group holds."
        ),
        APART_INSIDE: lambda who, n: (
            f"{who} are to be kept apart, and are also among those to be kept together."
        ),
        TOO_MANY_APART: lambda who, n: (
            f"{who} are all to be kept apart from each other. That is {n}, more than there are "
            "groups."
        ),
        NO_WAY: lambda who, n: (
            "Every way to fill groups of this size was tried. None of them holds all your wishes."
        ),
    }
)
"""Code of a proof to a sentence; ``who`` are names, ``n`` how many."""


def cannot_sentences(proofs: Sequence[CannotHold], names: Mapping[str, str]) -> tuple[str, ...]:
    """Why wishes cannot all hold, each reason once."""
    said = (
        CANNOT_SENTENCES[one.code](
            listed([names[key] for key in one.members]) if one.members else "", len(one.members)
        )
        for one in proofs
    )
    return tuple(dict.fromkeys(said))


def fix_sentences(fixes: Fixes, names: Mapping[str, str]) -> tuple[str, ...]:
    """The nearest ways out, each of them tried.

    >>> fix_sentences(Fixes(3, (("a", "b"),)), {"a": "Mina", "b": "Theo"})
    ('In groups of 3 all your wishes hold.', 'Or give up one wish: Mina and Theo.')
    """
    said = []
    if fixes.size is not None:
        said.append(f"In groups of {fixes.size} all your wishes hold.")
    if fixes.give_up:
        pairs = [listed([names[key] for key in wish]) for wish in fixes.give_up]
        said.append(f"{'Or give' if said else 'Give'} up one wish: {'; or '.join(pairs)}.")
    if not said:
        said.append("More than one wish must be given up, or the size changed by much.")
    return tuple(said)
