"""What stands beside the notes of a part: dynamics, tempo, rehearsal marks, repeats, jumps."""

from __future__ import annotations

import re
from fractions import Fraction
from itertools import chain

from lxml import etree

from standlight.score.walked import (
    QUARTERS_OF_TYPE,
    PartWalk,
    SignDraft,
    WalkedMeasure,
    number_in,
)

DYNAMIC_AFTER = {
    **{level: level for level in ("mp", "mf", "n")},
    **{letter * count: letter * count for letter in "pf" for count in range(1, 7)},
    "fp": "p",
    "sfp": "p",
    "sfpp": "pp",
    "pf": "f",
}
"""The level in force after a printed dynamic; accents such as sfz leave it as it was."""

_DA_CAPO = re.compile(r"\bD\.?\s?C\.?(\s|$)|\bda capo\b", re.IGNORECASE)
_DAL_SEGNO = re.compile(r"\bD\.?\s?S\.?(\s|$)|\bdal segno\b", re.IGNORECASE)
_TO_CODA = re.compile(r"\bto coda\b", re.IGNORECASE)
_FINE = re.compile(r"^\s*fine\.?\s*$", re.IGNORECASE)
_LOUDER_OR_SOFTER = (
    (re.compile(r"\b(?:decresc|dim\b|dimin|smorz|morendo|calando)", re.IGNORECASE), "diminuendo"),
    (re.compile(r"\bcresc", re.IGNORECASE), "crescendo"),
)
_NUMBER = re.compile(r"\d+(?:\.\d+)?")
_PASS = re.compile(r"\d{1,3}")
"""The number of a pass in an ending's "1, 2" or "1.2."."""


class DirectionReader:
    """The half of a walk that reads directions and barlines into the measure under way."""

    def __init__(self, resolution: int) -> None:
        """Begin before the first measure, ``resolution`` ticks to a quarter."""
        self.walk = PartWalk()
        self.resolution = resolution
        self.unit: int | Fraction = resolution
        self.now = 0
        self.cursor = 0
        self.here = WalkedMeasure(None, False)
        self.open_hairpins: dict[str, SignDraft] = {}

    def direction(self, direction: etree._Element) -> None:
        """Read dynamics, tempo, rehearsal marks, words and jumps."""
        tick = self.cursor + self.offset(direction)
        staff = int(number_in(direction.findtext("staff")) or 1)
        sound = direction.find("sound")
        tempo = sound is not None and self.sound(sound, tick)
        for child in chain.from_iterable(direction.iterchildren("direction-type")):
            if child.tag == "dynamics":
                self.dynamic(child, staff, tick)
            elif child.tag == "metronome":
                self.metronome(child, tick, silent=tempo)
            elif child.tag == "wedge":
                self.hairpin(child, staff, max(tick, 0))
            elif child.tag == "rehearsal" and (child.text or "").strip():
                self.here.rehearsal = child.text.strip()
            elif child.tag == "words":
                self.words(child.text or "", tick, staff)
            elif child.tag == "segno":
                self.here.signs.segno = True
            elif child.tag == "coda":
                self.here.signs.coda = True

    def offset(self, direction: etree._Element) -> int:
        """Ticks by which a direction stands after (or before) the clock."""
        value = number_in(direction.findtext("offset"))
        return 0 if value is None else round(value * self.unit)

    def dynamic(self, dynamics: etree._Element, staff: int, tick: int) -> None:
        """Note the level in force from ``tick`` on."""
        for child in dynamics:
            level = DYNAMIC_AFTER.get(child.tag)
            if level is not None:
                self.walk.dynamics.append((self.now, max(tick, 0), staff, level))

    def hairpin(self, wedge: etree._Element, staff: int, tick: int) -> None:
        """Open or close a hairpin; one that never closes is left out."""
        kind, number = wedge.get("type"), f"{wedge.get('number', '1')} {staff}"
        if kind == "stop":
            sign = self.open_hairpins.pop(number, None)
            if sign is not None:
                sign.end_measure, sign.end_tick = self.now, tick
                self.walk.signs.append(sign)
        elif kind in ("crescendo", "diminuendo"):
            self.open_hairpins[number] = SignDraft(kind, self.now, tick, self.now, tick, staff)

    def metronome(self, metronome: etree._Element, tick: int, *, silent: bool) -> None:
        """Note a tempo given as beats a minute of some note value; ``silent``: only the value."""
        unit = QUARTERS_OF_TYPE.get((metronome.findtext("beat-unit") or "").strip())
        number = _NUMBER.search(metronome.findtext("per-minute") or "")
        per_minute = number_in(number.group()) if number else None
        if unit is None or not per_minute:
            return
        dots = len(metronome.findall("beat-unit-dot"))
        quarters = unit * (2 - Fraction(1, 2**dots))
        self.walk.tempo_beats.append((self.now, max(tick, 0), quarters))
        if silent:
            return
        qpm = round(float(per_minute) * float(quarters), 3)
        self.walk.tempos.append((self.now, max(tick, 0), qpm))

    def words(self, text: str, tick: int, staff: int) -> None:
        """Read jumps and hairpins written as words, and keep what heads the measure."""
        for pattern, kind in _LOUDER_OR_SOFTER:
            if pattern.search(text):
                at = max(tick, 0)
                self.walk.signs.append(SignDraft(kind, self.now, at, self.now, at, staff))
                break
        signs = self.here.signs
        signs.da_capo |= bool(_DA_CAPO.search(text))
        signs.dal_segno |= bool(_DAL_SEGNO.search(text))
        signs.to_coda |= bool(_TO_CODA.search(text))
        signs.fine |= bool(_FINE.match(text))
        if tick == 0 and text.strip():
            self.here.heading = f"{self.here.heading} {' '.join(text.split())}".strip()

    def sound(self, sound: etree._Element, tick: int | None = None) -> bool:
        """Read tempo and jumps of a ``<sound>``; True when it gave a tempo."""
        signs = self.here.signs
        signs.da_capo |= sound.get("dacapo") == "yes"
        signs.dal_segno |= sound.get("dalsegno") is not None
        signs.to_coda |= sound.get("tocoda") is not None
        signs.segno |= sound.get("segno") is not None
        signs.coda |= sound.get("coda") is not None
        signs.fine |= sound.get("fine") is not None
        qpm = number_in(sound.get("tempo"))
        if qpm is None or qpm <= 0:
            return False
        at = self.cursor if tick is None else tick
        self.walk.tempos.append((self.now, max(at, 0), round(float(qpm), 3)))
        return True

    def barline(self, barline: etree._Element) -> None:
        """Read repeats, endings and final bars."""
        signs = self.here.signs
        repeat, ending = barline.find("repeat"), barline.find("ending")
        if barline.find("segno") is not None:
            signs.segno = True
        if barline.find("coda") is not None:
            signs.coda = True
        signs.final_bar |= barline.findtext("bar-style") == "light-heavy"
        if repeat is not None and repeat.get("direction") == "forward":
            signs.forward = True
        elif repeat is not None:
            signs.backward_times = max(2, int(number_in(repeat.get("times")) or 2))
        if ending is not None and ending.get("type") == "start":
            signs.ending = tuple(int(one) for one in _PASS.findall(ending.get("number", "")))
        elif ending is not None:
            signs.ending_stops = True
