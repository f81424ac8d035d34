"""From which size on words call something out: one table for the words and for what is drawn.

A sentence that says that nothing stands out and a coloured mark beside it would contradict each
other; so whoever words or draws a deviation asks here.
"""

from __future__ import annotations

NOTE_CENTS = 25.0
"""Listeners call a sung note out of tune from about here (Larrouy-Maestri 2018, abstract)."""

SURE_PROBABILITY = 0.8
"""A note that was told with less is called not sure, drawn in outline and counted only for the
upper end of an interval (our choice; what such notes were is measured in docs/method.md)."""

SURE_SE = 2.0
"""A note is called off only when it is off by its limit beyond so many standard errors."""

ENTRY_MS = {"voice": 100.0, "strings": 70.0}
"""How far an entry may be off before it is worth words, where it is more than 50 ms. Soft
starts are read less exactly: trials had voices at 40 to 60 ms median error, strings at 14."""

USUAL_ENTRY_MS = 50.0
"""mir_eval's onset window, and the asynchrony of good ensembles (Rasch 1979, from memory)."""


def entry_limit_ms(family: str) -> float:
    """What an entry may be off before it is worth words, by the family of the instrument.

    >>> entry_limit_ms("voice"), entry_limit_ms("brass")
    (100.0, 50.0)
    """
    return ENTRY_MS.get(family, USUAL_ENTRY_MS)
