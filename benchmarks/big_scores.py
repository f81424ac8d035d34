"""Scores as large as asked, built from a real movement by stacking its parts and repeating it."""

from __future__ import annotations

import re
from io import BytesIO
from zipfile import ZipFile

from lxml import etree

_NUMBER = re.compile(r'(<measure\b[^>]*?\bnumber=")[^"]*(")')


def stacked(data: bytes, n_parts: int, n_measures: int) -> bytes:
    """A MusicXML score of ``n_parts`` x ``n_measures`` made of the real one in ``data``.

    ``data`` is a .mxl or plain MusicXML file. Its parts are taken in order, again from the
    first when there are too few (with ids and names of their own); its measures likewise, so
    that a movement that is too short begins again; measure numbers run on from 1. The same
    bytes in give the same bytes out. Raises ValueError for a size below one.

    >>> bar = '<measure number="1"><note><rest/><duration>4</duration></note></measure>'
    >>> row = '<score-part id="P1"><part-name>Flute</part-name></score-part>'
    >>> small = f'<s><part-list>{row}</part-list><part id="P1">{bar}</part></s>'.encode()
    >>> big = etree.fromstring(stacked(small, 2, 3))
    >>> [part.get("id") for part in big.findall("part")]
    ['S1', 'S2']
    >>> [measure.get("number") for measure in big.find("part")]
    ['1', '2', '3']
    """
    if n_parts < 1 or n_measures < 1:
        raise ValueError(f"a score of {n_parts} parts and {n_measures} measures is none")
    root = etree.fromstring(_plain(data))
    rows = {row.get("id"): row for row in root.iterfind("part-list/score-part")}
    parts = root.findall("part")
    bars = [[etree.tostring(bar, encoding="unicode") for bar in part] for part in parts]
    head, body = [], []
    for place in range(n_parts):
        source, copy = place % len(parts), place // len(parts)
        old, new = parts[source].get("id", ""), f"S{place + 1}"
        row = etree.fromstring(etree.tostring(rows[old], with_tail=False))
        if copy:
            row.find("part-name").text += f" ({copy + 1})"
        text = etree.tostring(row, encoding="unicode")
        head.append(text.replace(f'"{old}"', f'"{new}"').replace(f'"{old}-', f'"{new}-'))
        pieces = [
            _NUMBER.sub(rf"\g<1>{at + 1}\g<2>", bars[source][at % len(bars[source])], count=1)
            for at in range(n_measures)
        ]
        inside = "".join(pieces).replace(f'"{old}-', f'"{new}-')
        body.append(f'<part id="{new}">{inside}</part>')
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n<score-partwise version="4.0">'
        f"<work><work-title>Stacked {n_parts} x {n_measures}</work-title></work>"
        f"<part-list>{''.join(head)}</part-list>{''.join(body)}</score-partwise>\n"
    ).encode()


def _plain(data: bytes) -> bytes:
    """The XML inside a packed score, or ``data`` itself."""
    if not data.startswith(b"PK"):
        return data
    with ZipFile(BytesIO(data)) as archive:
        (name,) = [
            name
            for name in archive.namelist()
            if name.endswith((".xml", ".musicxml")) and not name.startswith("META-INF/")
        ]
        return archive.read(name)
