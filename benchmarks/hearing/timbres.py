"""The kinds of sound of the made takes: who plays them, which sampled program, which additive."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Timbre:
    """One kind of sound.

    ``names`` are the instruments of the house's table it may stand for; ``program`` counts
    from 0 in the General MIDI list; ``low`` and ``high`` bound made lines (sounding MIDI).
    The additive tone has harmonics falling by ``slope_db`` an octave, raised near
    ``formants_hz``, odd ones only when ``odd``; it swells for ``attack_s``. The additive
    figures are our choice after the textbook shapes of each family.
    """

    key: str
    family: str
    names: tuple[str, ...]
    program: int
    low: int
    high: int
    slope_db: float
    attack_s: float
    formants_hz: tuple[float, ...] = ()
    odd: bool = False
    breath: float = 0.0
    scoops: float = 0.0
    vibrato_cents: float = 0.0


_HORN = ("Horn in F",)
_TRUMPET = ("Trumpet / cornet / flugelhorn in Bb", "Trumpet in C")
_TROMBONE = ("Trombone", "Baritone / euphonium (treble clef)", "Baritone / euphonium (bass clef)")
_BASS_CLARINET = "Bass clarinet in Bb (treble clef)"

ALL = (
    Timbre("flute", "winds", ("Flute",), 73, 62, 88, -12, 0.040, breath=0.05, vibrato_cents=12),
    Timbre("piccolo", "winds", ("Piccolo",), 72, 76, 98, -14, 0.035, breath=0.05),
    Timbre("oboe", "winds", ("Oboe",), 68, 60, 84, -5, 0.030, (1100.0,)),
    Timbre("english_horn", "winds", ("English horn",), 69, 54, 76, -5, 0.030, (900.0,)),
    Timbre("clarinet", "winds", ("Clarinet in Bb", "Clarinet in A"), 71, 52, 84, -8, 0.025,
           (1500.0,), odd=True),
    Timbre("alto_sax", "winds", ("Alto saxophone in Eb",), 65, 52, 78, -6, 0.025, (900.0,),
           scoops=0.1),
    Timbre("tenor_sax", "winds", ("Tenor saxophone in Bb",), 66, 46, 72, -6, 0.025, (700.0,),
           scoops=0.1),
    Timbre("trumpet", "brass", _TRUMPET, 56, 55, 80, -4, 0.020, (1200.0,)),
    Timbre("horn", "brass", _HORN, 60, 46, 72, -8, 0.035, (450.0,)),
    Timbre("trombone", "low", _TROMBONE, 57, 41, 66, -5, 0.030, (600.0,)),
    Timbre("tuba", "low", ("Tuba (bass clef, as written)",), 58, 30, 54, -7, 0.040, (300.0,)),
    Timbre("bassoon", "low", ("Bassoon",), 70, 36, 64, -6, 0.030, (500.0,)),
    Timbre("bass_clarinet", "low", (_BASS_CLARINET,), 71, 38, 60, -8, 0.030, (900.0,), odd=True),
    Timbre("baritone_sax", "low", ("Baritone saxophone in Eb",), 67, 38, 62, -6, 0.030, (600.0,)),
    Timbre("double_bass", "low", ("Double bass",), 43, 28, 52, -7, 0.060, (250.0,)),
    Timbre("violin", "strings", ("Violin",), 40, 57, 88, -5, 0.060, (1200.0, 2800.0),
           vibrato_cents=18),
    Timbre("viola", "strings", ("Viola",), 41, 50, 78, -5, 0.060, (900.0,), vibrato_cents=18),
    Timbre("cello", "strings", ("Cello",), 42, 38, 66, -5, 0.060, (500.0,), vibrato_cents=18),
    Timbre("high_voice", "voice", ("Soprano", "Alto"), 53, 57, 78, -9, 0.070, (800.0, 1200.0),
           breath=0.04, scoops=0.35, vibrato_cents=35),
    Timbre("low_voice", "voice", ("Tenor", "Bass"), 53, 43, 66, -9, 0.070, (600.0, 1000.0),
           breath=0.04, scoops=0.35, vibrato_cents=35),
)  # fmt: skip
"""Every kind of pitched sound with a breath or a bow."""

BY_KEY = {timbre.key: timbre for timbre in ALL}
FAMILIES = ("winds", "brass", "strings", "low", "voice")
"""The families of the issue's table; low instruments are a family of their own there."""

TURNS = ("winds", "strings", "low", "voice", "brass", "winds", "strings", "low")
"""Which family a take's number asks for, so that every family has its share."""
