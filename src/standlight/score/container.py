"""From the bytes of a file to one MusicXML tree: unzip, decode, parse, mend, never trust.

Refused, with a sentence: what is not XML or not a score, what is too large (packed or
unpacked), what declares entities. Mended, with a remark: bytes before the declaration,
a declared encoding that the bytes contradict, malformed XML, a namespace, a file
ordered by time instead of by part, a packed file without its table of contents.

Standard: MusicXML 4.0 (W3C Community Group report), container and score-timewise.
"""

from __future__ import annotations

import codecs
import re
import zipfile
import zlib
from io import BytesIO

from lxml import etree

from standlight.errors import UnreadableScore
from standlight.score.values import Remark

LARGEST_SCORE_BYTES = 64_000_000
"""Twice the largest orchestral movement seen (26 MB for 36 parts of 943 measures), rounded up."""

MOST_MEASURES = 200_000
"""In all parts together: five times the largest movement seen (36 parts of 943 measures)."""

MOST_PACKED_FILES = 500
"""A packed score holds a table of contents, a score and perhaps pictures and parts."""

_DECLARATION = re.compile(rb"""^<\?xml[^>]*?encoding\s*=\s*["']([A-Za-z0-9._-]+)["'][^>]*\?>""")
_ANY_DECLARATION = re.compile(r"^\s*<\?xml[^>]*\?>")
_BYTE_ORDER_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_MIDI_START = b"MThd"
_ZIP_START = b"PK\x03\x04"
_ENTITY = re.compile(rb"<![Ee][Nn][Tt][Ii][Tt][Yy]")  # letter by letter: ten times as fast


def open_score(data: bytes, *, name: str = "") -> tuple[etree._Element, list[Remark]]:
    """The root ``score-partwise`` element of a score file, and remarks on how it was got.

    ``data`` is a whole .xml, .musicxml or .mxl file; ``name`` is said in errors.
    Raises `UnreadableScore` as the module says.
    """
    remarks: list[Remark] = []
    where = name or "the score file"
    if not data.strip():
        raise UnreadableScore("the file is empty", where=where, slip="an upload that broke off?")
    if len(data) > LARGEST_SCORE_BYTES:
        raise UnreadableScore(
            f"the file has {len(data):,} bytes, more than the {LARGEST_SCORE_BYTES:,} allowed",
            where=where,
            slip="a recording or a picture?",
        )
    if data.startswith(_MIDI_START):
        raise UnreadableScore(
            "this is a MIDI file, which holds no notation", where=where, slip="export MusicXML"
        )
    if data.startswith(_ZIP_START):
        data = _unpack(data, where, remarks)
    text = _as_utf8(data, where, remarks)
    if _ENTITY.search(text):
        raise UnreadableScore(
            "the file declares entities of its own, which no score needs",
            where=where,
            slip="not saved by a notation program?",
        )
    root = _parse(text, where, remarks)
    _drop_namespaces(root, remarks)
    if root.tag == "score-timewise":
        remarks.append(Remark("timewise", "The file is ordered by measure; reordered by part."))
        root = _by_part(root)
    if root.tag != "score-partwise":
        raise UnreadableScore(
            f"the file is XML but its first element is <{root.tag}>, not a score",
            where=where,
            slip="a different kind of XML file?",
        )
    if root.find("part") is None:
        raise UnreadableScore("the score has no part", where=where, slip="exported empty?")
    n_measures = int(root.xpath("count(part/measure)"))
    if n_measures == 0:
        raise UnreadableScore("the score has no measure", where=where, slip="exported empty?")
    if n_measures > MOST_MEASURES:
        raise UnreadableScore(
            f"the score has {n_measures:,} measures in all parts, more than {MOST_MEASURES:,}",
            where=where,
            slip="a damaged file?",
        )
    return root, remarks


def _unpack(data: bytes, where: str, remarks: list[Remark]) -> bytes:
    """The score inside a packed (.mxl) file."""
    try:
        with zipfile.ZipFile(BytesIO(data)) as archive:
            entries = {entry.filename: entry for entry in archive.infolist()}
            if len(entries) > MOST_PACKED_FILES:
                raise UnreadableScore(
                    f"the packed file holds {len(entries)} files, more than {MOST_PACKED_FILES}",
                    where=where,
                    slip="not a packed score?",
                )
            inner = _named_in_contents(archive, entries, where, remarks)
            return _read_entry(archive, inner, where)
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError) as broken:
        raise UnreadableScore(
            "the packed file is damaged", where=where, slip="an upload that broke off?"
        ) from broken
    except (NotImplementedError, RuntimeError) as locked:
        raise UnreadableScore(
            "the packed file is locked or packed in an unknown way",
            where=where,
            slip="save it again as .mxl or .musicxml",
        ) from locked


def _named_in_contents(
    archive: zipfile.ZipFile,
    entries: dict[str, zipfile.ZipInfo],
    where: str,
    remarks: list[Remark],
) -> zipfile.ZipInfo:
    """The entry that META-INF/container.xml names, or else the first score-like one."""
    contents = entries.get("META-INF/container.xml")
    if contents is not None:
        listing = _parse(_read_entry(archive, contents, where), where, remarks)
        for rootfile in listing.iter("{*}rootfile"):
            kind = rootfile.get("media-type", "application/vnd.recordare.musicxml+xml")
            path = rootfile.get("full-path", "")
            if "xml" in kind and path in entries:
                return entries[path]
    remarks.append(
        Remark("container", "The packed file names no score; the first one inside is read.")
    )
    for path, entry in entries.items():
        if path.lower().endswith((".xml", ".musicxml")) and not path.startswith("META-INF/"):
            return entry
    raise UnreadableScore(
        "the packed file holds no score", where=where, slip="a folder of something else, zipped?"
    )


def _read_entry(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, where: str) -> bytes:
    """Unpack one entry, at most the allowed number of bytes whatever its header says."""
    with archive.open(entry) as stream:
        content = stream.read(LARGEST_SCORE_BYTES + 1)
    if len(content) > LARGEST_SCORE_BYTES:
        raise UnreadableScore(
            f"the packed file unpacks to more than {LARGEST_SCORE_BYTES:,} bytes", where=where
        )
    return content


def _as_utf8(data: bytes, where: str, remarks: list[Remark]) -> bytes:
    """The same document as UTF-8 without byte-order mark or leading rubbish."""
    for mark, encoding in _BYTE_ORDER_MARKS:
        if data.startswith(mark):
            return _reencoded(data.decode(encoding, "replace"))
    if data[:4] in (b"<\x00?\x00", b"\x00<\x00?"):
        return _reencoded(data.decode("utf-16-le" if data[:1] == b"<" else "utf-16-be", "replace"))
    start = data.find(b"<")
    if start < 0:
        raise UnreadableScore(
            "the file is not XML", where=where, slip="a PDF or a program's own format?"
        )
    if data[:start].strip():
        if b"\x00" in data[:start] or start > 1000:
            raise UnreadableScore(
                "the file is not XML", where=where, slip="a PDF or a program's own format?"
            )
        remarks.append(Remark("leading_bytes", "Bytes before the XML declaration were skipped."))
    data = data[start:]
    declared = _DECLARATION.match(data)
    encoding = declared.group(1).decode("ascii").lower() if declared else "utf-8"
    if encoding in ("utf-8", "utf8", "us-ascii", "ascii"):
        encoding = "utf-8"
    elif encoding.startswith(("utf-16", "utf-32", "ucs")):
        remarks.append(
            Remark("encoding", f"The file says {encoding} but is not; read as UTF-8 instead.")
        )
        encoding = "utf-8"
    try:
        text = data.decode(encoding)
    except (UnicodeError, LookupError):
        remarks.append(
            Remark("encoding", f"The file is not in {encoding} as it says; read as Latin-1.")
        )
        return _reencoded(data.decode("latin-1"))
    if encoding == "utf-8":  # decoded only to know that it is; the bytes are good as they are
        return data[declared.end() :] if declared else data
    return _reencoded(text)


def _reencoded(text: str) -> bytes:
    """``text`` as UTF-8 bytes without a declaration that could contradict them."""
    return _ANY_DECLARATION.sub("", text.lstrip("\ufeff"), count=1).encode("utf-8", "replace")


def _parse(text: bytes, where: str, remarks: list[Remark]) -> etree._Element:
    """The root of ``text``; malformed XML is mended as far as it can be, with a remark."""
    settings = {
        "resolve_entities": False,
        "no_network": True,
        "load_dtd": False,
        "remove_comments": True,
        "remove_pis": True,
        "remove_blank_text": True,  # half of all nodes are indentation
        "encoding": "utf-8",
    }
    try:
        return etree.fromstring(text, etree.XMLParser(**settings))
    except etree.XMLSyntaxError as fault:
        line = fault.lineno
        root = _mended(text, settings)
        if root is None or not isinstance(root.tag, str):
            raise UnreadableScore(
                "the file is not XML",
                where=f"{where}, line {line}",
                slip="a PDF or a program's own format?",
            ) from fault
        remarks.append(
            Remark("malformed", f"The XML is damaged at line {line}; what could be read is shown.")
        )
        return root


def _mended(text: bytes, settings: dict[str, object]) -> etree._Element | None:
    """The root found by the parser's recovery mode, ``None`` when there is none."""
    try:
        return etree.fromstring(text, etree.XMLParser(recover=True, **settings))
    except etree.XMLSyntaxError:
        return None


def _drop_namespaces(root: etree._Element, remarks: list[Remark]) -> None:
    """Rename ``{namespace}tag`` to ``tag`` throughout, in place."""
    if not root.tag.startswith("{"):
        return
    remarks.append(Remark("namespace", "The score's elements carry a namespace; it was dropped."))
    for element in root.iter():
        if isinstance(element.tag, str):
            element.tag = etree.QName(element).localname


def _by_part(root: etree._Element) -> etree._Element:
    """A new ``score-partwise`` element with the measures of a ``score-timewise`` one."""
    turned = etree.Element("score-partwise", root.attrib)
    parts: dict[str, etree._Element] = {}
    for child in list(root):
        if child.tag != "measure":
            turned.append(child)
            continue
        for part in child.findall("part"):
            identity = part.get("id", "")
            if identity not in parts:
                parts[identity] = etree.Element("part", id=identity)
            measure = etree.SubElement(parts[identity], "measure", child.attrib)
            measure.extend(list(part))
    turned.extend(parts.values())
    return turned
