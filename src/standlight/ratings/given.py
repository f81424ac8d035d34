"""What people gave: one level for one take and criterion, and the same take heard again. Pure.

Every finding about raters, growth and tasks starts from these two rows. Names in them are
keys; who a key is, the caller knows.
"""

from __future__ import annotations

from dataclasses import dataclass

DIRECTOR, SELF, PEER, GUEST = "director", "self", "peer", "guest"
RATER_CLASSES = (DIRECTOR, SELF, PEER, GUEST)
"""Who may rate. The link between raters, and every finding about directors, takes ``DIRECTOR``
alone; self, peer and guest ratings never enter it, or a mark. A guest whom a director compares
with themself comes as ``DIRECTOR``."""


@dataclass(frozen=True, slots=True)
class GivenRating:
    """One ``level`` that ``rater`` gave ``take`` for ``criterion``.

    ``task`` is the passage: the same key means the same music asked again. ``day`` is when it
    was played and ``given_day`` when it was rated, in days (with fractions) from the first day
    of the table. ``section`` is a key of its own in each ``ensemble``; ``instrument`` tells
    when a musician changed theirs.
    """

    student: str
    ensemble: str
    section: str
    instrument: str
    task: str
    take: str
    day: float
    given_day: float
    criterion: str
    rater: str
    level: int
    rater_class: str = DIRECTOR


@dataclass(frozen=True, slots=True)
class HeardAgain:
    """One criterion of a take that ``rater`` rated twice, not knowing the second time.

    Days as in ``GivenRating``; ``first_minute`` and ``again_minute`` count from the start of
    the evening's session in which the level was given.
    """

    student: str
    take: str
    criterion: str
    rater: str
    first_level: int
    again_level: int
    first_day: float
    again_day: float
    first_minute: float
    again_minute: float
