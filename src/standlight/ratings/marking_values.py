"""What a mark is made of: the work of one musician, one level with its day, a mark. Pure."""

from __future__ import annotations

from dataclasses import dataclass, field

from standlight.ratings.levels import LEVEL_NAMES, NO_LEVEL_NAMES

RATED, WAITING, TO_COME, TO_HEAR, MISSING, EXCUSED, ABSENT, NOT_ASSESSED, NOT_ASKED = (
    "rated",
    "waiting",
    "to_come",
    "to_hear",
    "missing",
    "excused",
    "absent",
    "not_assessed",
    "not_asked",
)
WORK_STATES = {
    RATED: "rated",
    WAITING: "sent, not rated yet",
    TO_COME: "not sent yet",
    TO_HEAR: "to be heard live",
    MISSING: "missing",
    EXCUSED: "excused",
    ABSENT: "absent",
    NOT_ASSESSED: "not assessed",
    NOT_ASKED: "not asked",
}
"""What can be said of one musician's work, in words; each is told apart from the others."""

LOWEST, HIGHEST = min(LEVEL_NAMES), max(LEVEL_NAMES)


@dataclass(frozen=True, slots=True)
class Work:
    """One musician's work for one check or assignment, with the newest rated try's levels.

    ``levels`` maps a criterion's key to ``"1"`` to ``"4"``, ``"not_shown"`` or ``"not_heard"``.
    ``day`` is when it was done, in days from the first day of the period; ``weight`` is what it
    counts under a policy of weights. ``newer_waits`` says that a later try is not rated yet.
    """

    title: str
    state: str
    levels: dict[str, str] = field(default_factory=dict)
    attempt: int = 1
    day: float = 0.0
    weight: float = 1.0
    newer_waits: bool = False

    def __post_init__(self) -> None:
        """Refuse an unknown state, a level that is none, and a weight under zero."""
        if self.state not in WORK_STATES:
            raise ValueError(f"{self.state!r} is no state of work")
        if self.weight < 0:
            raise ValueError(f"the weight of {self.title} is under zero")
        for given in self.levels.values():
            if given not in NO_LEVEL_NAMES and (
                not given.isdigit() or int(given) not in LEVEL_NAMES
            ):
                raise ValueError(f"{given!r} is no level (counted from 0?)")

    @property
    def numbers(self) -> dict[str, int]:
        """The levels that are levels, by criterion; none where the work is not rated."""
        if self.state != RATED:
            return {}
        return {
            key: int(given) for key, given in self.levels.items() if given not in NO_LEVEL_NAMES
        }


@dataclass(frozen=True, slots=True)
class Dated:
    """One level (or the mean of a check's levels), its day in the period, and its weight."""

    level: float
    day: float = 0.0
    weight: float = 1.0


@dataclass(frozen=True, slots=True)
class Figure:
    """What a policy makes of levels: a ``value``, and an interval only where one is estimated.

    ``counted`` are the places, in order of day, of the levels that the value rests on; ``note``
    is a sentence where the policy could not do what it says.
    """

    value: float
    counted: tuple[int, ...]
    low: float | None = None
    high: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class MarkLine:
    """One criterion (or one check, where the policy goes by checks) inside a mark.

    ``levels`` are in order of day, ``counted`` the places of those that count.
    """

    key: str
    value: float
    levels: tuple[float, ...]
    counted: tuple[int, ...]
    low: float | None = None
    high: float | None = None

    @property
    def n_levels(self) -> int:
        """How many levels there are, those that do not count included."""
        return len(self.levels)


@dataclass(frozen=True, slots=True)
class Mark:
    """A mark, or ``None`` with the reason; ``because`` says in sentences how it came about.

    ``value`` is on the scale of the levels, 1 to 4; ``word`` is what the school's table makes of
    it and ``percent`` the figure where that table goes to percents. ``left_out`` says what did
    not enter; ``low`` and ``high`` are 95 percent bounds where the policy estimates them.
    """

    value: float | None
    word: str
    because: tuple[str, ...]
    lines: tuple[MarkLine, ...] = ()
    left_out: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    percent: float | None = None
    n_levels: int = 0
    n_works: int = 0

    @property
    def printed(self) -> str:
        """The value to two decimals, empty without a mark."""
        return "" if self.value is None else f"{rounded(self.value):.2f}"


def rounded(mean: float) -> float:
    """A mean to two decimals, as it is printed, so that the word agrees with the figure.

    >>> rounded(2.4999999)
    2.5
    """
    return round(mean + 1e-9, 2)


def count_of(number: int, one: str, many: str = "") -> str:
    """A number and its noun.

    >>> count_of(1, "level"), count_of(3, "check")
    ('1 level', '3 checks')
    """
    return f"{number} {one if number == 1 else many or one + 's'}"
