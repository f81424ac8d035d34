"""Names in one phrase for every sentence; days are in `dates`, counts in `ratings`."""

from __future__ import annotations

from collections.abc import Sequence


def listed(names: Sequence[str]) -> str:
    """Names in one phrase; nothing for none.

    >>> listed(["Flute", "Oboe", "Horn"]), listed(["Flute"]), listed([])
    ('Flute, Oboe and Horn', 'Flute', '')
    """
    return " and ".join(filter(None, (", ".join(names[:-1]), *names[-1:])))
