"""The instruments and voices the house knows, and which of them a printed name means.

The table is read once from two tab-separated files beside this module (their SOURCES.md
says where each figure is from). Ranges are school ranges in sounding MIDI numbers.
"""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from importlib.resources import files

from lxml import etree

from standlight.score.walked import whole_in


@dataclass(frozen=True, slots=True)
class Instrument:
    """One row of the table.

    ``clef`` is sign and line as usual in its parts ("G2", "F4", "C3", "GF" for two
    staves, "G2 8vb", "percussion"); ``transposition`` is sounding minus written in
    semitones; ``chromatic``, ``diatonic`` and ``octave_change`` are the same as MusicXML
    writes it. The range is ``None`` for unpitched percussion. ``source`` is a flag
    explained beside the data. ``grade_ranges_midi`` are the sounding ranges usual in music
    of grades 1 and 2, where a chart gives them.
    """

    name: str
    family: str
    clef: str
    transposition: int
    sounding_low_midi: int | None
    sounding_high_midi: int | None
    unpitched: bool
    voice: bool
    chromatic: int
    diatonic: int
    octave_change: int
    source: str
    grade_ranges_midi: tuple[tuple[int, int] | None, tuple[int, int] | None] = (None, None)


def _read_tables() -> dict[str, Instrument]:
    """All rows by name, in the order of the files (score order within a family)."""
    table = {}
    for name in ("instruments.tsv", "more_instruments.tsv"):
        text = files("standlight.score").joinpath("data", name).read_text(encoding="utf-8")
        for row in csv.DictReader(text.splitlines(), delimiter="\t"):
            low, high = row["sounding_low_midi"], row["sounding_high_midi"]
            table[row["instrument"]] = Instrument(
                name=row["instrument"],
                family=row["family"],
                clef=row["clef"],
                transposition=int(row["total_semitones"]),
                sounding_low_midi=int(low) if low else None,
                sounding_high_midi=int(high) if high else None,
                unpitched=row["clef"] == "percussion",
                voice=row["family"] == "voice",
                chromatic=int(row["mxml_chromatic"]),
                diatonic=int(row["mxml_diatonic"]),
                octave_change=int(row["mxml_octave_change"]),
                source=row["source_flag"],
                grade_ranges_midi=(
                    _sounding(row["grade1_written"], int(row["total_semitones"])),
                    _sounding(row["grade2_written"], int(row["total_semitones"])),
                ),
            )
    return table


def _sounding(written: str | None, transposition: int) -> tuple[int, int] | None:
    """A written range such as "Bb3-D5" in sounding MIDI numbers, ``None`` for none."""
    names = re.findall(r"([A-G])([b#]?)(\d)", written or "")
    if len(names) != 2:
        return None
    low, high = (
        12 * (int(octave) + 1) + _SEMITONES[step] + {"b": -1, "#": 1, "": 0}[sign] + transposition
        for step, sign, octave in names
    )
    return low, high


_SEMITONES = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}

INSTRUMENTS: dict[str, Instrument] = _read_tables()
"""Every instrument and voice by its name."""

_CORNET = "Trumpet / cornet / flugelhorn in Bb"
_BASS_CLARINET = "Bass clarinet in Bb (treble clef)"
_EUPHONIUM_BASS = "Baritone / euphonium (bass clef)"
_EUPHONIUM_TREBLE = "Baritone / euphonium (treble clef)"
_TUBA = "Tuba (bass clef, as written)"
_BELLS = "Glockenspiel / bells"
_CHIMES = "Chimes / tubular bells"
_CONTRA_ALTO = "Contra-alto clarinet in Eb (treble clef)"
_CONTRABASS_CLARINET = "Contrabass clarinet in Bb (treble clef)"

# Printed names in English, Italian, German and French, the more special first.
_NAMES: tuple[tuple[re.Pattern[str], str], ...] = tuple(
    (re.compile(pattern, re.IGNORECASE), name)
    for pattern, name in (
        (r"snare|side drum|field drum", "Snare drum"),
        (r"bass drum|gran cassa", "Bass drum"),
        (r"cymbal|piatti|hi-?hat", "Cymbals"),
        (r"triang", "Triangle"),
        (r"tambour", "Tambourine"),
        (r"wood ?block|temple block|claves", "Wood block"),
        (r"drum ?(set|kit)|\bdrums\b", "Drum set"),
        (r"timp|kettle ?drum|pauken", "Timpani (pair 29/26 in)"),
        (r"glock|\bbells\b|orchestra bells", _BELLS),
        (r"xylo", "Xylophone"),
        (r"vibra", "Vibraphone"),
        (r"marimba", "Marimba (4.3 octave)"),
        (r"chimes|tubular", _CHIMES),
        (r"percussion|\bperc\b|auxiliary|\baux\b|tam-?tam|\btoms?\b|gong|maracas", "Percussion"),
        (r"piccolo|\bpicc\b|ottavino", "Piccolo"),
        (r"recorder|blockfl", "Soprano recorder"),
        (r"fl[uû]t|flaut|\bfl\b", "Flute"),
        (r"english horn|cor anglais|corno inglese|englischhorn|\bc\.? ?a\.?$", "English horn"),
        (r"oboe|hautbois|\bob\b", "Oboe"),
        (r"contra-?bassoon|double bassoon|contrafag|kontrafag", "Contrabassoon"),
        (r"bassoon|fagott|basson|\bbsn\b", "Bassoon"),
        (r"contra-?alto cl|(e|e-) ?flat contra.*cl|eb contra.*cl", _CONTRA_ALTO),
        (r"contra-?bass cl|bb contra.*cl", _CONTRABASS_CLARINET),
        (r"bass cl|clarinetto basso|bassklar|clarinette basse", _BASS_CLARINET),
        (r"alto cl", "Alto clarinet in Eb"),
        (r"clarinet in eb|(eb|e flat|e-flat|e♭) (soprano )?clar", "Clarinet in Eb"),
        (r"clarinet in a\b|\ba clarinet|\bin a\b.*clar", "Clarinet in A"),
        (r"clarinet|klarinet|clarinett|\bcl\b", "Clarinet in Bb"),
        (r"sop\w* sax|saxofono soprano", "Soprano saxophone in Bb"),
        (r"alto sax|altsax", "Alto saxophone in Eb"),
        (r"ten\w* sax|tenorsax", "Tenor saxophone in Bb"),
        (r"bari\w* sax|baritonsax", "Baritone saxophone in Eb"),
        (r"saxophone", "Alto saxophone in Eb"),
        (r"trumpet in c|\bc trumpet", "Trumpet in C"),
        (r"trumpet|cornet|fl[uü]gel|tromba|trompet|\btpt\b|\bcnt\b", _CORNET),
        (r"bass tromb|trombone basso", "Bass trombone"),
        (r"tromb|posaune|\btbn\b", "Trombone"),
        (r"\bhorn|\bhns?\b|corn[oi]\b|mellophone|\bcors?\b", "Horn in F"),
        (r"(baritone|euph\w*).*(t\.? ?c\b|treble)", _EUPHONIUM_TREBLE),
        (r"euph", _EUPHONIUM_BASS),
        (r"tuba|sousa|basses \(tuba", _TUBA),
        (r"\bviolins?\b|violino|violine|violon$|violons|\bvln\b|fiddle", "Violin"),
        (r"contrabass|double ?bass|kontrabass|contrabbass|string bass|violone", "Double bass"),
        (r"violoncell|\bcell|\bvlc\b|\bvc\b", "Cello"),
        (r"viola|bratsch|\bvla\b|\balti?o? viol", "Viola"),
        (r"electric bass|bass guitar", "Electric bass"),
        (r"guitar|chitarr|gitarr", "Guitar (treble clef)"),
        (r"harpsi|cembalo|clavecin", "Harpsichord"),
        (r"\bharp|\barpa", "Harp"),
        (r"piano|keyboard|klavier", "Piano"),
        (r"\borgan|orgel|organo", "Organ"),
        (r"mezzo", "Mezzo-soprano"),
        (r"sopran|\bS ?[12]?$", "Soprano"),
        (r"descant|treble|discant", "Treble / descant"),
        (r"\balto|contralto|\bA ?[12]?$", "Alto"),
        (r"tenor|\bT ?[12]?$", "Tenor"),
    )
)

_LOW_NAMES = re.compile(r"\bbari|\bbass", re.IGNORECASE)  # alone, "Bass" means two things

# General MIDI programs (1-based, as MusicXML writes them), for names that say nothing.
_BY_PROGRAM = {
    10: _BELLS, 12: "Vibraphone", 13: "Marimba (4.3 octave)", 14: "Xylophone", 15: _CHIMES,
    7: "Harpsichord", 20: "Organ", 25: "Guitar (treble clef)", 41: "Violin", 42: "Viola",
    43: "Cello", 44: "Double bass", 47: "Harp", 48: "Timpani (pair 29/26 in)", 57: _CORNET,
    58: "Trombone", 59: _TUBA, 61: "Horn in F", 65: "Soprano saxophone in Bb",
    66: "Alto saxophone in Eb", 67: "Tenor saxophone in Bb", 68: "Baritone saxophone in Eb",
    69: "Oboe", 70: "English horn", 71: "Bassoon", 72: "Clarinet in Bb", 73: "Piccolo",
    74: "Flute", 75: "Soprano recorder",
}  # fmt: skip
_CONTRABASS_PROGRAM = 44
_VOICE_PROGRAMS = frozenset({53, 54, 55})

# The same name, another key: the transposition in the file decides.
_BY_TRANSPOSITION = {
    ("Clarinet in Bb", -3): "Clarinet in A",
    ("Clarinet in Bb", 3): "Clarinet in Eb",
    ("Clarinet in Bb", -9): "Alto clarinet in Eb",
    ("Clarinet in Bb", -14): _BASS_CLARINET,
    ("Alto saxophone in Eb", -2): "Soprano saxophone in Bb",
    ("Alto saxophone in Eb", -14): "Tenor saxophone in Bb",
    ("Alto saxophone in Eb", -21): "Baritone saxophone in Eb",
    (_CORNET, 0): "Trumpet in C",
    (_EUPHONIUM_BASS, -14): _EUPHONIUM_TREBLE,
}


def instrument_of(
    name: str, row: etree._Element | None = None, transposition: int | None = None
) -> str:
    """The name in `INSTRUMENTS` that a part's printed ``name`` means, "" when none is found.

    ``row`` is the part's MusicXML ``<score-part>`` when there is one: its instrument name,
    sound and MIDI program help where the name says nothing or two things ("Bass").

    >>> instrument_of("Bb Clarinet 2"), instrument_of("2nd Tenor"), instrument_of("Snare drum")
    ('Clarinet in Bb', 'Tenor', 'Snare drum')
    """
    if name in INSTRUMENTS and not _LOW_NAMES.fullmatch(name):
        return name
    flat = name.replace("♭", "b").replace("♯", "#")
    program, sound, inner = _facts(row)
    found = _named(flat) or _low_named(flat, program, sound, transposition)
    found = found or _named(inner) or _low_named(inner, program, sound, transposition)
    found = found or _BY_PROGRAM.get(program or 0, "")
    return _BY_TRANSPOSITION.get((found, transposition), found)


def drum_names(row: etree._Element) -> dict[str, str]:
    """Instrument names (lower case) by instrument id, from a ``<score-part>`` element."""
    return {
        instrument.get("id", ""): " ".join(instrument.findtext("instrument-name", "").split())
        .lower()
        for instrument in row.iterfind("score-instrument")
        if (instrument.findtext("instrument-name") or "").strip()
    }


def _facts(row: etree._Element | None) -> tuple[int | None, str, str]:
    """MIDI program, standard sound and instrument name of a ``<score-part>``."""
    if row is None:
        return None, "", ""
    program = (row.findtext("midi-instrument/midi-program") or "").strip()
    sound = row.findtext("score-instrument/instrument-sound") or ""
    inner = row.findtext("score-instrument/instrument-name") or ""
    return whole_in(program), sound, inner.replace("♭", "b")


def _named(name: str) -> str:
    """The first row whose pattern is in ``name``, "" for none."""
    return next((found for pattern, found in _NAMES if pattern.search(name)), "")


def _low_named(name: str, program: int | None, sound: str, transposition: int | None) -> str:
    """What "Bass" or "Baritone" alone means: a voice, a string bass or a brass instrument."""
    if not _LOW_NAMES.search(name):
        return "Bass" if re.search(r"\bB ?[12]?$", name) and "voice" in sound else ""
    sung = sound.startswith("voice") or program in _VOICE_PROGRAMS
    if "bari" in name.lower():
        return "Baritone voice" if sung else _EUPHONIUM_BASS
    if program == _CONTRABASS_PROGRAM or sound.startswith("strings") or transposition == -12:
        return "Double bass"
    return "Bass"
