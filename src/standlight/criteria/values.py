"""What a criterion is, and what one figure of it looks like."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from standlight.passages import Asks

if TYPE_CHECKING:
    from standlight.sound.values import Performance

WINDS = ("woodwind", "brass")
"""Instruments that are blown, by the family names of the instruments table."""

SUSTAINING = (*WINDS, "strings", "voice", "other")
"""Families whose players choose how long and how high a note sounds."""

EVERYONE = (*SUSTAINING, "percussion")
"""Every family of the instruments table."""


@dataclass(frozen=True, slots=True)
class Reading:
    """One figure of one criterion with its 95 percent interval, or ``None`` and ``because``.

    ``sentence`` says it in words first ("measures 12 to 13: four entries a little early").
    """

    criterion: str
    name: str
    value: float | None
    low: float | None
    high: float | None
    unit: str
    n_notes: int
    because: str = ""
    sentence: str = ""

    def __post_init__(self) -> None:
        """Refuse an absent figure that does not say why it is absent."""
        if self.value is None and not self.because:
            raise ValueError(f"reading {self.criterion}/{self.name} is absent without a reason")


Reader = Callable[["Performance"], tuple[Reading, ...]]
"""How a criterion reads a followed performance: its figures, at least one."""


@dataclass(frozen=True, slots=True)
class Trouble:
    """One note worth listening to again: its ``index``, what it is in words, how large.

    ``one`` and ``many`` name it ("entry a little early", "entries a little early");
    ``size`` is 1.0 at the threshold of being noticeable.
    """

    index: int
    one: str
    many: str
    size: float


Finder = Callable[["Performance"], tuple[Trouble, ...]]
"""How a criterion finds the notes worth another listen; none is a fine answer."""


@dataclass(frozen=True, slots=True)
class Criterion:
    """One thing a director listens for, in words a sixth-grader reads.

    ``question`` is what the director asks the recording; ``descriptors`` says what each
    level 1 to 4 sounds like; ``families`` are the instrument families it applies to;
    ``asks`` is what a passage must hold to show it; ``find`` picks the notes worth another
    listen, when the criterion can. ``by_ear`` says why only a person can hear it; then
    ``read`` is ``None``, or gives figures that stand beside the ear, and ``beside`` says
    what they are not. ``read_together`` gives what a small group's take shows of it, when
    that is anything.
    """

    key: str
    name: str
    question: str
    descriptors: Mapping[int, str]
    families: tuple[str, ...]
    asks: Asks
    read: Reader | None = None
    find: Finder | None = None
    by_ear: str = ""
    beside: str = ""
    read_together: Reader | None = None

    def __post_init__(self) -> None:
        """Refuse missing levels, and an ear-only criterion that does not say why."""
        if set(self.descriptors) != {1, 2, 3, 4}:
            raise ValueError(f"criterion {self.key} needs a descriptor for each level 1 to 4")
        if self.read is None and not self.by_ear:
            raise ValueError(f"criterion {self.key} is read by machine or by ear: say which")
        if bool(self.read and self.by_ear) != bool(self.beside):
            raise ValueError(
                f"criterion {self.key} is for the ear: say what figures beside it are not"
            )
        object.__setattr__(self, "descriptors", MappingProxyType(dict(self.descriptors)))

    @property
    def has_readings(self) -> bool:
        """True when the tool can read this criterion itself, not only something beside it."""
        return self.read is not None and not self.by_ear

    def applies_to(self, family: str) -> bool:
        """True when players of this instrument family can show the criterion."""
        return family in self.families
