"""The names of the percussion keys of General MIDI.

Source: General MIDI System Level 1, percussion key map (MIDI Manufacturers Association, 1991):
on channel 10 each key from 35 to 81 is one drum. Names as in the map, in lower case as the
house writes drums.
"""

from __future__ import annotations

FIRST_DRUM_KEY = 35
"""The lowest key that the map names."""

_NAMES = (
    "acoustic bass drum", "bass drum 1", "side stick", "acoustic snare", "hand clap",
    "electric snare", "low floor tom", "closed hi-hat", "high floor tom", "pedal hi-hat",
    "low tom", "open hi-hat", "low-mid tom", "hi-mid tom", "crash cymbal 1", "high tom",
    "ride cymbal 1", "chinese cymbal", "ride bell", "tambourine", "splash cymbal", "cowbell",
    "crash cymbal 2", "vibraslap", "ride cymbal 2", "hi bongo", "low bongo", "mute hi conga",
    "open hi conga", "low conga", "high timbale", "low timbale", "high agogo", "low agogo",
    "cabasa", "maracas", "short whistle", "long whistle", "short guiro", "long guiro", "claves",
    "hi wood block", "low wood block", "mute cuica", "open cuica", "mute triangle",
    "open triangle",
)  # fmt: skip

DRUM_OF_KEY: dict[int, str] = dict(enumerate(_NAMES, start=FIRST_DRUM_KEY))
"""Drum name by MIDI key, 35 to 81."""


def drum_of_key(key: int) -> str:
    """The drum on a key of channel 10; "drum key 27" for one outside the map.

    >>> drum_of_key(38), drum_of_key(81), drum_of_key(27)
    ('acoustic snare', 'open triangle', 'drum key 27')
    """
    return DRUM_OF_KEY.get(key, f"drum key {key}")
