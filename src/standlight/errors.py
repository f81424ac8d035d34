"""The house's errors: each says what is wrong, where, and the likely slip.

Reading what others wrote (a score, a take, a roster) returns a value and its
remarks; only what cannot be read at all raises one of these.
"""

from __future__ import annotations


class StandlightError(Exception):
    """Something a person can mend, said in one sentence for that person.

    >>> raise StandlightError("level 0 is not a level", where="row 3", slip="counted from 0?")
    Traceback (most recent call last):
    ...
    standlight.errors.StandlightError: level 0 is not a level, at row 3 (counted from 0?)
    """

    def __init__(self, what: str, *, where: str = "", slip: str = "") -> None:
        """Keep ``what`` is wrong, ``where`` (file, row, measure) and the likely ``slip``."""
        self.what = what
        self.where = where
        self.slip = slip
        sentence = what
        if where:
            sentence += f", at {where}"
        if slip:
            sentence += f" ({slip})"
        super().__init__(sentence)


class UnreadableScore(StandlightError):
    """The bytes are no score that can be read: not XML, too large, no part."""


class UnreadableTake(StandlightError):
    """The bytes are no recording that can be decoded: not audio, empty, an hour long."""


class UnreadableLine(StandlightError):
    """A typed line of music breaks the plain form; ``where`` names the measure and token."""


class UnreadableRatings(StandlightError):
    """Ratings cannot be read as a table at all: no columns, no CSV, nothing in it."""


class UnreadableRoster(StandlightError):
    """A roster cannot be read as a table at all: no columns, wrong encoding."""


class WorkshopFailure(StandlightError):
    """A child process (decoder, engraver) died, ran over a limit or answered nonsense."""


class NotAllowed(StandlightError):
    """The action is known but not open to this person, or not in this state."""
