"""What a check reads intonation against, as a director chooses it and as people read it."""

from __future__ import annotations

from standlight.errors import StandlightError
from standlight.listening import PitchTarget
from standlight.programme.models import PlayingCheck

EQUAL, JUST, DRONE = PlayingCheck.EQUAL, PlayingCheck.JUST, PlayingCheck.DRONE

CHOICES = {
    EQUAL: "The pitches of a piano (equal temperament)",
    JUST: "Just intervals above a tonic: thirds and fifths without beats",
    DRONE: "A drone that the musician hears in headphones while playing",
}
"""Kind to what stands on the form; the first is the default."""

TONICS = {
    "C": ("C", 0), "C#": ("C sharp", 1), "Db": ("D flat", 1), "D": ("D", 2),
    "Eb": ("E flat", 3), "E": ("E", 4), "F": ("F", 5), "F#": ("F sharp", 6),
    "Gb": ("G flat", 6), "G": ("G", 7), "Ab": ("A flat", 8), "A": ("A", 9),
    "Bb": ("B flat", 10), "B": ("B", 11),
}  # fmt: skip
"""Stored name to its name in words and its pitch class; the tonics of the usual keys."""

_AGAINST = {JUST: "just intervals above", DRONE: "a drone on"}


def checked_target(kind: str, tonic: str) -> tuple[str, str]:
    """Kind and tonic as they are stored: equal temperament keeps no tonic.

    Raises `StandlightError` for a kind or tonic that is not offered, or none where one is needed.
    """
    if kind not in CHOICES:
        raise StandlightError(f"intonation cannot be read against {kind!r}")
    if kind == EQUAL:
        return EQUAL, ""
    if tonic not in TONICS:
        raise StandlightError(
            f"{tonic!r} is no tonic" if tonic else "just intervals and a drone need a tonic",
            slip="choose the note that the passage comes home to",
        )
    return kind, tonic


def target_of(kind: str, tonic: str, *, semitones: int = 0) -> PitchTarget:
    """What notes are measured against, for a musician whose version is moved by ``semitones``.

    >>> target_of("just", "Bb", semitones=2).tonic
    0
    """
    if kind == EQUAL:
        return PitchTarget()
    return PitchTarget(kind, (TONICS[tonic][1] + semitones) % 12)


def target_words(kind: str, tonic: str, *, singing: bool) -> str:
    """The target in a few words, empty for equal temperament.

    Players of transposing instruments are told that the tonic is a concert pitch.

    >>> target_words("just", "Bb", singing=False)
    'just intervals above concert B flat'
    """
    if kind not in _AGAINST:
        return ""
    return f"{_AGAINST[kind]} {'' if singing else 'concert '}{TONICS[tonic][0]}"
