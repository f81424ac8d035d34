"""Two typed lines on one staff, as two voices of one part."""

from copy import deepcopy

from lxml import etree

from standlight.score import line_to_musicxml


def two_voices(upper: str, lower: str, *, instrument: str) -> bytes:
    """MusicXML in which ``upper`` is voice 1 and ``lower``, as long in measures, is voice 2."""
    root = etree.fromstring(line_to_musicxml(upper, instrument=instrument))
    other = etree.fromstring(line_to_musicxml(lower, instrument=instrument))
    assert root.findtext(".//divisions") == other.findtext(".//divisions")
    pairs = zip(root.iter("measure"), other.iter("measure"), strict=True)
    for measure, from_measure in pairs:
        units = sum(int(one.text) for one in measure.iterfind("note/duration"))
        etree.SubElement(etree.SubElement(measure, "backup"), "duration").text = str(units)
        for note in from_measure.iterfind("note"):
            note = deepcopy(note)
            note.attrib.pop("id", None)
            note.find("voice").text = "2"
            measure.append(note)
    return etree.tostring(root)
