"""What groups are made from and what they are: members, wishes, reasons as codes. Pure.

Members are opaque keys. Wishes to keep apart or together are the director's own: no reason of a
group ever tells them, and what tells them (``broken``, ``cannot_hold``) is for the director.
"""

from __future__ import annotations

from dataclasses import dataclass

from standlight.errors import StandlightError

MIXED, SAME, ANY = "mixed", "same", "any"
PARTS = {
    MIXED: "as many different parts in each group as can be: discussion",
    SAME: "the same part together as far as can be: sectionals",
    ANY: "parts do not matter",
}

HELPER = "helper"
DISCUSSION_ROLES = ("starter", "scribe", "timekeeper", "speaker")
SECTIONAL_ROLES = (HELPER, "timekeeper")
ROLES = {
    HELPER: "plays it once for the others when they ask",
    "starter": "reads the question and asks who begins",
    "scribe": "writes down what the group agrees on, and what it does not",
    "timekeeper": "says when half the time is gone, and when two minutes are left",
    "speaker": "tells everybody what the group found",
}
"""Roles in a group (common practice, no source)."""

REASONS = {
    "parts_mixed": "`n` different parts among `of`",
    "parts_same": "`n` of `of` play the same part",
    "answers_differ": "`n` different answers among the `of` who answered",
    "maps_differ": "their listening maps lie `value` seconds apart on average",
    "levels_near": "the group's mean level is `value` of a level from everybody's mean",
    "new_together": "`n` of `of` pairs were not together in the groups before",
}
"""Codes of what speaks for a group."""

TOO_LARGE, APART_INSIDE, TOO_MANY_APART, NO_WAY = (
    "too_large", "apart_inside", "too_many_apart", "no_way",
)  # fmt: skip
CANNOT_HOLD = {
    TOO_LARGE: "those to be kept together are more than a group holds: take larger groups",
    APART_INSIDE: "two to be kept apart are among those to be kept together: give one wish up",
    TOO_MANY_APART: "so many must all be apart from each other, and there are fewer groups:"
    " take smaller groups, or give one wish up",
    NO_WAY: "every way to fill groups of these sizes was tried and none holds all wishes",
}
"""Proved reasons why wishes cannot hold, with the nearest fix."""


@dataclass(frozen=True, slots=True)
class Member:
    """One musician: opaque ``key``, part, and whatever is known.

    ``level`` 1 to 4 or a mean of levels; ``answer`` the key of an answer to a prompt; ``listening``
    seconds at which each event of a listening map was pinned, None where it was not;
    ``roles_before`` the roles of earlier groups.
    """

    key: str
    part: str
    level: float | None = None
    answer: str = ""
    listening: tuple[float | None, ...] = ()
    roles_before: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class GroupRequest:
    """What groups are asked for.

    No group has more than ``size`` members, and no two differ by more than one. ``earlier`` holds
    earlier groupings, the latest first. ``seed`` decides all that is left to chance.
    """

    members: tuple[Member, ...]
    size: int
    parts: str = MIXED
    keep_apart: tuple[tuple[str, str], ...] = ()
    keep_together: tuple[tuple[str, ...], ...] = ()
    earlier: tuple[tuple[tuple[str, ...], ...], ...] = ()
    roles: tuple[str, ...] = DISCUSSION_ROLES
    seed: int = 0

    def __post_init__(self) -> None:
        """Refuse what no groups can be made of."""
        keys = [member.key for member in self.members]
        if not keys:
            raise StandlightError("nobody is there to be grouped", slip="choose an ensemble")
        if len(set(keys)) < len(keys):
            raise StandlightError("a musician stands twice on the list")
        if self.size < 2:
            raise StandlightError(
                f"a group of {self.size} is no group", slip="two is the smallest, four is usual"
            )
        if self.parts not in PARTS:
            raise StandlightError(f"{self.parts} is no way to treat parts")
        named = {key for wish in (*self.keep_apart, *self.keep_together) for key in wish}
        if named - set(keys):
            raise StandlightError(
                f"{len(named - set(keys))} of those in the wishes are not on the list",
                slip="absent today? take them out of the wishes",
            )
        if any(len(set(pair)) != 2 for pair in self.keep_apart):
            raise StandlightError("somebody cannot be kept apart from themselves")

    @property
    def sizes(self) -> tuple[int, ...]:
        """Sizes of the groups, the larger first.

        >>> GroupRequest(tuple(Member(str(n), "Flute") for n in range(10)), 4).sizes
        (4, 3, 3)
        """
        number = -(-len(self.members) // self.size)
        least, more = divmod(len(self.members), number)
        return (least + 1,) * more + (least,) * (number - more)


@dataclass(frozen=True, slots=True)
class Reason:
    """One thing that speaks for a group: a key of ``REASONS`` with its figures."""

    code: str
    n: int = 0
    of: int = 0
    value: float = 0.0


@dataclass(frozen=True, slots=True)
class Group:
    """Members by key, who has which role (role, key), and reasons."""

    members: tuple[str, ...]
    roles: tuple[tuple[str, str], ...]
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class CannotHold:
    """A proof that wishes cannot all hold: a key of ``CANNOT_HOLD`` and whom it is about."""

    code: str
    members: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Fixes:
    """Ways out where wishes cannot all hold: a ``size`` (None: none near was found), or wishes any
    one of which may be given up.
    """

    size: int | None
    give_up: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Broken:
    """A wish that the grouping breaks: whom it is about, and whether it was to keep them apart."""

    members: tuple[str, ...]
    apart: bool


@dataclass(frozen=True, slots=True)
class Grouping:
    """Groups, the wishes that they break and the proofs that some cannot hold.

    ``cost`` is what the search made small (no unit; only for comparing groupings of one request).
    """

    groups: tuple[Group, ...]
    cost: float
    broken: tuple[Broken, ...]
    cannot_hold: tuple[CannotHold, ...]
