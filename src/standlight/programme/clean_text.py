"""Text as it was typed, without what no store and no page can hold."""

from __future__ import annotations

import re

_BROKEN = re.compile("[\x00\ud800-\udfff]")
"""A null, or half a character pair, that no page can show: a slip in copying."""


def without_broken(text: str) -> str:
    """``text`` without broken characters; everything else stays.

    >>> without_broken("out \\ud83d of tune" + chr(0))
    'out  of tune'
    """
    return _BROKEN.sub("", text)


def one_line_of(text: object, length: int) -> str:
    """A text on one line without broken characters, cut to ``length`` characters.

    >>> one_line_of("Clap \\ud83d it\\nfirst", 40)
    'Clap it first'
    """
    return " ".join(without_broken(str(text)).split())[:length]
