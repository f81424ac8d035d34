"""Cut a few measures of one part into a small score of their own, and read such a cut.

The cut carries in what is in force (meter, key, clef, transposition, dynamic, tempo, an
8va line), drops what hangs over its edges (ties, slurs, hairpins), keeps the printed
measure numbers, and leaves out layout, repeats and jumps, since a passage is played once
as written. The tempo is printed, whichever part of the score prints it. Note ``n0`` is the
first note the player plays, ``n1`` the next. Of a part that divides all is printed; the cut
remembers which line is the player's.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from copy import deepcopy
from fractions import Fraction

from lxml import etree

from standlight.errors import StandlightError
from standlight.score.clefs import clef_of
from standlight.score.container import open_score
from standlight.score.instruments import INSTRUMENTS, instrument_of
from standlight.score.numbering import (
    line_in,
    number_notes,
    numbered_line,
    remember_line,
    rests_of,
)
from standlight.score.player_line import ALL, UPPER, divides, player_line_places
from standlight.score.printed_tempo import PrintedTempos, printed_beats, tempo_mark
from standlight.score.reading import (
    columns_of,
    identities_of,
    length_of,
    measures_of,
    movements_of,
    notes_of,
    row_of,
    tempos_of,
    title_of,
    with_beats,
)
from standlight.score.remembering import ORIGIN_FIELD, remember, remembered
from standlight.score.tidying import tidy
from standlight.score.values import Passage
from standlight.score.walked import PartWalk, number_in
from standlight.score.walking import resolution_of, walk_part

_ATTRIBUTES_ORDER = ("divisions", "key", "time", "staves", "part-symbol", "clef", "staff-details",
                     "transpose")  # fmt: skip
"""What a cut carries in, in the order the MusicXML 4.0 schema asks for."""


_BEFORE_CLEF = _ATTRIBUTES_ORDER[: _ATTRIBUTES_ORDER.index("clef")]


def cut_passage(
    data: bytes, part_index: int, first: int, last: int, *, line: str = UPPER
) -> bytes:
    """Measures ``first`` to ``last`` (0-based, inclusive) of one part as a MusicXML file.

    ``data`` is the whole score; ``line`` says which of two voices, two staves or the notes
    of a chord is the player's: "upper", "lower" or "all". Raises `UnreadableScore` when
    ``data`` is no score and `StandlightError` when it has no such part, measures or line.
    """
    return cut_passages(data, [(part_index, first, last)], line=line)[0]


def cut_passages(
    data: bytes, places: Sequence[tuple[int, int, int]], *, line: str = UPPER
) -> tuple[bytes, ...]:
    """Many cuts (part index, first, last) of one score for the price of one reading."""
    root, remarks = open_score(data)
    resolution = resolution_of(root)
    elements = root.findall("part")
    identities = identities_of(root, elements, remarks)
    walks = [
        walk_part(element, identity, index=index, resolution=resolution)
        for index, (element, identity) in enumerate(zip(elements, identities, strict=True))
    ]
    columns = columns_of(walks)
    lengths = [length_of(column, resolution) for column in columns]
    tempos = tempos_of(walks)
    measures = measures_of(columns, lengths, movements_of(columns), tempos, resolution)
    printed = PrintedTempos(measures, tempos, printed_beats(walks))
    cuts = []
    for part_index, first, last in places:
        _check_place(walks, part_index, first, last)
        cut = _Cut(root, elements[part_index], walks[part_index], first, last, resolution)
        cuts.append(cut.made(lengths, printed, line))
    return tuple(cuts)


def read_passage(notation: bytes, *, voice: str | None = None) -> Passage:
    """What a musician plays in a cut or typed line; note ``i`` has the id ``n{i}`` in it.

    Of two voices on a staff the line that was chosen in the cut, unless ``voice`` names
    one; where all was chosen the upper line, and ``several_at_once`` is true. Raises
    `UnreadableScore` when ``notation`` is no score.

    >>> from standlight.score import line_to_musicxml
    >>> passage = read_passage(line_to_musicxml("Bb4 h Bb4 h | C5 w", instrument="Flute"))
    >>> passage.printed, [note.midi for note in passage.notes]
    ('1 to 2', [70, 70, 72])
    """
    root, remarks = open_score(notation, name="the passage")
    resolution = resolution_of(root)
    part = root.find("part")
    identity = identities_of(root, [part], remarks)[0]
    walk = walk_part(part, identity, index=0, resolution=resolution)
    columns = columns_of([walk])
    lengths = [length_of(column, resolution) for column in columns]
    measures = with_beats(
        measures_of(columns, lengths, [0] * len(columns), tempos_of([walk]), resolution), [walk]
    )
    notes = [note for _, note in notes_of(walk, lengths, resolution)]
    line, rests = line_in(root), rests_of(walk, lengths, resolution)
    places = player_line_places(notes, voice=voice, line=numbered_line(line), rests=rests)
    row = root.find("part-list/score-part")
    first, last = measures[0].printed, measures[-1].printed
    return Passage(
        part_name=identity.name,
        instrument=instrument_of(identity.name, row, walk.transposition),
        printed=first if len(measures) == 1 else f"{first} to {last}",
        measures=measures,
        notes=tuple(notes[place] for place in places),
        length_quarters=measures[-1].onset_quarters + measures[-1].length_quarters,
        tempo_qpm=next((one.tempo_qpm for one in measures if one.tempo_qpm), None),
        several_at_once=line == ALL and divides(notes, rests=rests),
    )


def _check_place(walks: Sequence[PartWalk], part_index: int, first: int, last: int) -> None:
    """Refuse a part or a stretch that the score does not have."""
    if not 0 <= part_index < len(walks):
        raise StandlightError(
            f"the score has {len(walks)} parts, so there is no part with index {part_index}",
            slip="counted from 1?",
        )
    count = len(walks[part_index].measures)
    if not 0 <= first <= last < count:
        raise StandlightError(
            f"measures {first} to {last} are not in a part of {count} measures (0 to {count - 1})",
            slip="printed numbers instead of indexes, or first and last swapped?",
        )


class _Cut:
    """One cut under way."""

    def __init__(
        self,
        root: etree._Element,
        part: etree._Element,
        walk: PartWalk,
        first: int,
        last: int,
        resolution: int,
    ) -> None:
        self.source, self.part, self.walk = root, part, walk
        self.first, self.last, self.resolution = first, last, resolution

    def made(self, lengths: Sequence[int], tempos: PrintedTempos, line: str) -> bytes:
        """The cut as UTF-8 bytes; ``lengths`` (ticks) and ``tempos`` are the whole score's."""
        measures = list(self.part.iterchildren("measure"))
        inside = [deepcopy(measure) for measure in measures[self.first : self.last + 1]]
        carried = _carried_attributes(measures[: self.first])
        shifts = _open_octave_shifts(measures[: self.first])
        divisions = _own_divisions(carried, inside[0])
        for measure in inside:
            _strip(measure)
        _lead_in(inside[0], carried, shifts)
        if inside[0].find("attributes/clef") is None:
            self._clef(inside[0][0])
        self._dynamics_in_force(inside)
        self._tempos(inside, divisions, tempos)
        tidy(inside)
        self._pad(inside, divisions, lengths)
        root = self._frame(inside)
        remember_line(root, line)
        number_notes(root)
        etree.indent(root)
        return etree.tostring(root, encoding="UTF-8", xml_declaration=True)

    def _clef(self, attributes: etree._Element) -> None:
        """Write the instrument's usual clef where the file names none."""
        row = row_of(self.part)
        name = "" if row is None else row.findtext("part-name", "")
        known = INSTRUMENTS.get(instrument_of(name, row, self.walk.transposition))
        before = [child for child in attributes if child.tag in _BEFORE_CLEF]
        attributes.insert(len(before), clef_of(known))

    def _frame(self, measures: Iterable[etree._Element]) -> etree._Element:
        """A new score around the measures: title, composer, one row of the part list."""
        root = etree.Element("score-partwise", version="4.0")
        title = title_of(self.source)
        if title:
            work = etree.SubElement(root, "work")
            etree.SubElement(work, "work-title").text = title
        part_list = etree.SubElement(root, "part-list")
        rows = self.source.findall("part-list/score-part")
        row = next((row for row in rows if row.get("id") == self.part.get("id")), None)
        place = self.source.findall("part").index(self.part)
        if row is None and place < len(rows):
            row = rows[place]
        row = etree.Element("score-part") if row is None else deepcopy(row)
        row.set("id", "P1")
        if row.find("part-name") is None:
            name = etree.Element("part-name")
            name.text = f"Part {place + 1}"
            row.insert(0, name)
        part_list.append(row)
        part = etree.SubElement(root, "part", id="P1")
        part.extend(measures)
        remember(root, ORIGIN_FIELD, remembered(self.source, ORIGIN_FIELD))
        return root

    def _dynamics_in_force(self, inside: Sequence[etree._Element]) -> None:
        """Print the dynamic in force before each staff's first note, unless a new one is there."""
        marked = {staff for _, _, staff, _ in self.walk.dynamics}
        for staff in sorted(staff for staff in marked if 1 <= staff <= self.walk.staves):
            before = sorted(
                (measure, tick, level)
                for measure, tick, place, level in self.walk.dynamics
                if place == staff and measure < self.first
            )
            note = _first_note_without_dynamic(inside, staff)
            if not before or note is None:
                continue
            direction = etree.Element("direction", placement="below")
            kind = etree.SubElement(direction, "direction-type")
            etree.SubElement(etree.SubElement(kind, "dynamics"), before[-1][2])
            if self.walk.staves > 1:
                etree.SubElement(direction, "staff").text = str(staff)
            note.addprevious(direction)

    def _tempos(
        self, inside: Sequence[etree._Element], divisions: int, tempos: PrintedTempos
    ) -> None:
        """Write the tempo in force at each measure's start where it is new.

        It is printed at the start of the cut and wherever the score prints one; elsewhere it
        is a silent ``<sound>``, for those who listen.
        """
        last = None
        for index, measure in enumerate(inside, start=self.first):
            divisions = _divisions_after(measure, divisions)
            printed = tempos.to_print(index, begins=index == self.first)
            marks = []
            tempo_qpm = tempos.at(index)
            if tempo_qpm != last and 0 not in printed:
                marks.append(etree.Element("sound", tempo=f"{tempo_qpm:g}"))
            for tick, beat in sorted(printed.items()):
                offset = round(Fraction(tick * divisions, self.resolution))
                marks.append(tempo_mark(tempos.at(index, tick), beat, offset=offset))
            last = tempo_qpm
            place = _after_attributes(measure)
            measure[place:place] = marks

    def _pad(
        self, inside: Sequence[etree._Element], divisions: int, lengths: Sequence[int]
    ) -> None:
        """Fill a measure that is shorter in this part than in the score, so that times agree."""
        for index, measure in enumerate(inside, start=self.first):
            divisions = _divisions_after(measure, divisions)
            missing = lengths[index] - self.walk.measures[index].content
            units = missing * divisions
            if missing > 0 and units % self.resolution == 0:
                _go_to_end(measure, self.walk.measures[index], divisions, self.resolution)
                forward = etree.SubElement(measure, "forward")
                etree.SubElement(forward, "duration").text = str(units // self.resolution)


def _divisions_after(measure: etree._Element, divisions: int) -> int:
    """The divisions in force after ``measure``, which began with ``divisions``."""
    for child in measure.iterchildren("attributes"):
        value = number_in(child.findtext("divisions"))
        divisions = int(value) if value else divisions
    return divisions


def _first_note_without_dynamic(
    inside: Sequence[etree._Element], staff: int
) -> etree._Element | None:
    """The staff's first note (with its grace notes); ``None`` if a dynamic stands before it."""
    grace = None
    for measure in inside:
        for child in measure:
            if child.tag not in ("note", "direction"):
                continue
            if int(number_in(child.findtext("staff")) or 1) != staff:
                continue
            if child.tag == "direction":
                if child.find("direction-type/dynamics") is not None:
                    return None
            elif child.find("grace") is not None:
                grace = child if grace is None else grace
            elif child.find("rest") is None:
                return child if grace is None else grace
            else:
                grace = None
    return None


def _go_to_end(
    measure: etree._Element, walked: object, divisions: int, resolution: int
) -> None:
    """Move the clock at the end of ``measure`` to the end of its content."""
    cursor = 0
    for child in measure:
        length = number_in(child.findtext("duration"))
        if length is None or child.find("chord") is not None or child.find("grace") is not None:
            continue
        cursor = max(0, cursor + (-int(length) if child.tag == "backup" else int(length)))
    content = walked.content * divisions // resolution
    if content > cursor:
        forward = etree.SubElement(measure, "forward")
        etree.SubElement(forward, "duration").text = str(content - cursor)


def _carried_attributes(before: Iterable[etree._Element]) -> dict[str, etree._Element]:
    """The attributes in force after the measures ``before``, by kind and staff."""
    force: dict[str, etree._Element] = {}
    for measure in before:
        for attributes in measure.iterchildren("attributes"):
            _take_over(force, attributes)
    return force


def _take_over(force: dict[str, etree._Element], attributes: etree._Element) -> None:
    """Replace what is in force by what ``attributes`` say; one for all staves clears the rest."""
    for child in attributes:
        if child.tag not in _ATTRIBUTES_ORDER:
            continue
        if child.get("number") is None and child.tag != "clef":
            for key in [key for key in force if key.split(" ")[0] == child.tag]:
                del force[key]
        force[f"{child.tag} {child.get('number') or '1'}"] = child


def _own_divisions(carried: dict[str, etree._Element], measure: etree._Element) -> int:
    """The divisions in force at the start of the cut."""
    text = measure.findtext("attributes/divisions")
    if text is None and "divisions 1" in carried:
        text = carried["divisions 1"].text
    value = number_in(text)
    return int(value) if value and value >= 1 else 1


def _lead_in(
    measure: etree._Element, carried: dict[str, etree._Element], shifts: Iterable[etree._Element]
) -> None:
    """Put one complete ``<attributes>`` at the start of the cut, and reopen an 8va line."""
    for child in list(measure):
        if child.tag in ("note", "forward", "backup"):
            break
        if child.tag == "attributes":
            _take_over(carried, child)
            measure.remove(child)
    attributes = etree.Element("attributes")
    for tag in _ATTRIBUTES_ORDER:
        for key in sorted(key for key in carried if key.split(" ")[0] == tag):
            attributes.append(deepcopy(carried[key]))
    measure.insert(0, attributes)
    for shift in shifts:
        direction = etree.Element("direction", placement="above")
        kind = etree.SubElement(direction, "direction-type")
        kind.append(deepcopy(shift))
        measure.insert(1, direction)


def _open_octave_shifts(before: Iterable[etree._Element]) -> list[etree._Element]:
    """The 8va lines that are still open after the measures ``before``."""
    open_ones: dict[str, etree._Element] = {}
    for measure in before:
        for shift in measure.iterfind("direction/direction-type/octave-shift"):
            number = shift.get("number", "1")
            if shift.get("type") == "stop":
                open_ones.pop(number, None)
            elif shift.get("type") in ("up", "down"):
                open_ones[number] = shift
    return list(open_ones.values())


_LAYOUT_ATTRIBUTES = ("default-x", "default-y", "relative-x", "relative-y", "color", "id", "width",
                      "font-family", "font-size", "font-style", "font-weight")  # fmt: skip


def _strip(measure: etree._Element) -> None:
    """Take out layout, repeats, jumps, sounds and bundled rests; keep the music."""
    for element in list(measure.iter()):
        if element.tag == "instrument":  # its id points into the part list
            continue
        for attribute in _LAYOUT_ATTRIBUTES:
            element.attrib.pop(attribute, None)
    for path in (
        "print", "sound", "listening", "grouping", "link", "bookmark", "direction/sound",
        "direction/listening", "barline/repeat", "barline/ending", "barline/segno",
        "barline/coda", "attributes/measure-style", "attributes/directive",
        "attributes/for-part", "direction/direction-type/segno",
        "direction/direction-type/coda", "direction/direction-type/metronome",
    ):  # fmt: skip
        for element in measure.findall(path):
            element.getparent().remove(element)
    for words in measure.findall("direction/direction-type/words"):
        if _is_jump(words.text or ""):
            words.getparent().remove(words)
    for kind in measure.findall("direction/direction-type"):
        if len(kind) == 0:
            kind.getparent().remove(kind)
    for direction in measure.findall("direction"):
        if direction.find("direction-type") is None:
            measure.remove(direction)
    for style in measure.findall("barline/bar-style"):
        if style.text in ("heavy-light", "light-heavy", "heavy-heavy"):
            style.text = "light-light"
    for barline in measure.findall("barline"):
        if len(barline) == 0 or (
            barline.get("location") == "left" and barline.findtext("bar-style") == "light-light"
        ):
            measure.remove(barline)


def _is_jump(text: str) -> bool:
    """True for words that send the player elsewhere, which a passage does not do."""
    flat = text.lower().replace(".", "").replace(" ", "")
    return flat.startswith(("dc", "ds", "dacapo", "dalsegno", "tocoda", "alcoda")) or flat in (
        "fine",
        "coda",
    )


def _after_attributes(measure: etree._Element) -> int:
    """The place right after the leading ``<attributes>``, else the start."""
    return 1 if len(measure) and measure[0].tag == "attributes" else 0
