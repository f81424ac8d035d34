"""How many words a text has, also in scripts that write no spaces between words."""

from __future__ import annotations

import re

CHARACTERS_A_WORD = (
    (re.compile(r"[\u3040-\u30ff\u3400-\u4dbf\u4e00-\u9fff\U00020000-\U0002ffff]"), 2),
    (re.compile(r"[\u0e01-\u0eff\u1000-\u109f\u1780-\u17ff]"), 4),
)
"""Chinese and Japanese; Thai, Lao, Burmese and Khmer: about how many characters make a word (our
choice, so that a limit in words is fair to an answer in a first language)."""


def words_in(text: str) -> int:
    """How many words a text has, as a person counts them.

    >>> words_in("a slow, even crescendo"), words_in("音乐越来越响")
    (4, 3)
    """
    return sum(_words_of(run) for run in text.split())


def _words_of(run: str) -> int:
    """Words in a run without a space: one, or more in a script that writes none."""
    counts = ((len(script.findall(run)), size) for script, size in CHARACTERS_A_WORD)
    return max(1, sum(-(-found // size) for found, size in counts))
