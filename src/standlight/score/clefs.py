"""The clef and the transposition that a part begins with, as MusicXML writes them."""

from __future__ import annotations

from lxml import etree

from standlight.score.instruments import Instrument

LINE_OF_CLEF = {"G": "2", "F": "4", "C": "3"}
"""The staff line on which each clef usually stands."""


def clef_of(instrument: Instrument | None, *, octaves: int = 0) -> etree._Element:
    """The usual ``<clef>`` of an instrument, a treble clef for an unknown one.

    ``octaves`` is the small figure at the clef: -1 for music that sounds an octave lower.

    >>> etree.tostring(clef_of(None)).decode()
    '<clef><sign>G</sign><line>2</line></clef>'
    """
    clef = etree.Element("clef")
    if instrument is not None and instrument.unpitched:
        etree.SubElement(clef, "sign").text = "percussion"
        return clef
    sign = "G" if instrument is None else instrument.clef[0]
    etree.SubElement(clef, "sign").text = sign
    etree.SubElement(clef, "line").text = LINE_OF_CLEF[sign]
    if octaves:
        etree.SubElement(clef, "clef-octave-change").text = str(octaves)
    return clef


def transpose_of(instrument: Instrument) -> etree._Element:
    """The ``<transpose>`` of a transposing instrument."""
    transpose = etree.Element("transpose")
    etree.SubElement(transpose, "diatonic").text = str(instrument.diatonic)
    etree.SubElement(transpose, "chromatic").text = str(instrument.chromatic)
    if instrument.octave_change:
        etree.SubElement(transpose, "octave-change").text = str(instrument.octave_change)
    return transpose
