"""The four levels, and the two answers that are no level.

A level is a whole step a person gives; a reading never becomes one. Names after
the product's word list: Beginning, Developing, Secure, Extending.
"""

from __future__ import annotations

from standlight.errors import StandlightError

LEVEL_NAMES = {1: "Beginning", 2: "Developing", 3: "Secure", 4: "Extending"}
"""The whole steps a rater may give, by number."""

NOT_SHOWN = "not_shown"
"""The passage did not ask for the criterion, or the musician had no chance to show it."""

NOT_HEARD = "not_heard"
"""The recording did not let the rater hear it; says nothing of the musician."""

NO_LEVEL_NAMES = {NOT_SHOWN: "Not shown in this passage", NOT_HEARD: "Could not be heard"}
"""The answers beside the levels; neither enters a mark."""


def level_name(given: str) -> str:
    """Words for a stored rating: ``"1"`` to ``"4"``, ``"not_shown"`` or ``"not_heard"``.

    >>> level_name("3")
    'Secure'
    >>> level_name("0")
    Traceback (most recent call last):
    ...
    standlight.errors.StandlightError: level '0' is not between 1 and 4 (counted from 0?)
    """
    if given in NO_LEVEL_NAMES:
        return NO_LEVEL_NAMES[given]
    if given.isdigit() and int(given) in LEVEL_NAMES:
        return LEVEL_NAMES[int(given)]
    raise StandlightError(f"level {given!r} is not between 1 and 4", slip="counted from 0?")
