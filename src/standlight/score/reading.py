"""From the bytes of a score to a `Score`: every part, exact times, the order played.

All parts are walked once; a measure is as long as the longest part's content in it (a
pickup or a split bar is short, and parts may disagree), or as its meter says when it is
empty. What looks odd becomes a remark and never an error.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import cache
from itertools import accumulate

from lxml import etree

from standlight.music import Note
from standlight.score.collecting import collector_paused
from standlight.score.container import open_score
from standlight.score.instruments import INSTRUMENTS, drum_names, instrument_of
from standlight.score.play_order import play_order
from standlight.score.printed_tempo import printed_beats
from standlight.score.values import Measure, Part, Remark, Score, Sign
from standlight.score.walked import (
    Draft,
    PartIdentity,
    PartWalk,
    Signs,
    WalkedMeasure,
    whole_in,
)
from standlight.score.walking import resolution_of, walk_part


def read_score(data: bytes, *, name: str = "") -> Score:
    """Read a whole .xml, .musicxml or .mxl file; ``name`` is said in errors.

    Sounding pitches, ties merged, grace and cue notes left out, repeats not unfolded
    (``play_order`` says how they are played). Raises `UnreadableScore` only when the
    bytes are no score at all; everything else odd is in ``Score.remarks``.

    >>> from standlight.score import line_to_musicxml
    >>> score = read_score(line_to_musicxml("F4 q G4 q A4 h", instrument="Flute"))
    >>> [(note.onset_quarters, note.midi) for note in score.parts[0].notes]
    [(Fraction(0, 1), 65), (Fraction(1, 1), 67), (Fraction(2, 1), 69)]
    """
    with collector_paused():
        return _read(data, name)


def _read(data: bytes, name: str) -> Score:
    """The score itself."""
    root, remarks = open_score(data, name=name)
    resolution = resolution_of(root)
    elements = root.findall("part")
    identities = identities_of(root, elements, remarks)
    walks = [
        walk_part(element, identity, index=index, resolution=resolution)
        for index, (element, identity) in enumerate(zip(elements, identities, strict=True))
    ]
    for walk in walks:
        remarks.extend(walk.remarks)
    if len({len(walk.measures) for walk in walks}) > 1:
        remarks.append(Remark("part_lengths", "Parts have different numbers of measures."))
    columns = columns_of(walks)
    lengths = [length_of(column, resolution) for column in columns]
    signs = [merged_signs(column) for column in columns]
    movements = movements_of(columns)
    measures = with_beats(
        measures_of(columns, lengths, movements, tempos_of(walks), resolution), walks
    )
    remarks.extend(_odd_measures(columns, lengths, movements, resolution))
    parts = tuple(
        _part(index, element, identity, walk, lengths, resolution)
        for index, (element, identity, walk) in enumerate(
            zip(elements, identities, walks, strict=True)
        )
    )
    for part in parts:
        if not part.notes:
            remarks.append(Remark("empty_part", f"{part.name} has no note.", part.index))
    return Score(
        title=title_of(root),
        composer=_composer(root),
        movements=_movement_names(root, columns, movements),
        parts=parts,
        measures=measures,
        play_order=play_order(signs, movements),
        remarks=tuple(remarks),
    )


def identities_of(
    root: etree._Element, parts: Sequence[etree._Element], remarks: list[Remark]
) -> list[PartIdentity]:
    """What the part list says of each part, matched by id, or by place where ids fail."""
    rows = root.findall("part-list/score-part")
    by_id = {row.get("id"): row for row in rows}
    identities = []
    for place, part in enumerate(parts):
        row = by_id.get(part.get("id"))
        if row is None and place < len(rows):
            row = rows[place]
            remarks.append(Remark("part_id", "A part is named by its place in the list.", place))
        if row is None:
            remarks.append(Remark("part_id", "A part is missing from the part list.", place))
            identities.append(PartIdentity(f"Part {place + 1}"))
            continue
        drums = drum_names(row)
        name = " ".join((row.findtext("part-name") or "").split())
        name = name or next(iter(drums.values()), "") or f"Part {place + 1}"
        instrument = INSTRUMENTS.get(instrument_of(name, row))
        identities.append(PartIdentity(name, drums, bool(instrument and instrument.unpitched)))
    return identities


def row_of(part: etree._Element) -> etree._Element | None:
    """The row of the part list that has the id of ``part`` in its score, ``None`` without one."""
    rows = part.getparent().iterfind("part-list/score-part")
    return next((row for row in rows if row.get("id", "") == part.get("id", "")), None)


def columns_of(walks: Sequence[PartWalk]) -> list[tuple[WalkedMeasure, ...]]:
    """For each measure of the score the parts' own views of it (those that have it)."""
    count = max(len(walk.measures) for walk in walks)
    return [
        tuple(walk.measures[at] for walk in walks if at < len(walk.measures))
        for at in range(count)
    ]


def length_of(column: Sequence[WalkedMeasure], resolution: int) -> int:
    """Ticks that a measure lasts: its longest content, or its meter, or a whole note."""
    content = max(measure.content for measure in column)
    if content:
        return content
    return max((measure.nominal or 0 for measure in column), default=0) or 4 * resolution


def merged_signs(column: Sequence[WalkedMeasure]) -> Signs:
    """The signs of all parts at one measure, since many programs write them in one part only."""
    merged = Signs()
    for measure in column:
        own = measure.signs
        if own == _NO_SIGNS:
            continue
        merged.backward_times = merged.backward_times or own.backward_times
        merged.ending = merged.ending or own.ending
        for flag in ("forward", "ending_stops", "segno", "coda", "to_coda", "fine"):
            setattr(merged, flag, getattr(merged, flag) or getattr(own, flag))
        for flag in ("da_capo", "dal_segno", "final_bar"):
            setattr(merged, flag, getattr(merged, flag) or getattr(own, flag))
    return merged


_NO_SIGNS = Signs()
"""What nearly every measure shows."""


def movements_of(columns: Sequence[Sequence[WalkedMeasure]]) -> list[int]:
    """The 0-based movement of each measure: a new one begins where the numbers start again."""
    movement, highest, movements = 0, 0, []
    for column in columns:
        printed = column[0].printed or ""
        number = whole_in(printed)
        if number is not None:
            if number <= 1 and highest > 1:
                movement, highest = movement + 1, 0
            highest = max(highest, number)
        movements.append(movement)
    return movements


def tempos_of(walks: Sequence[PartWalk]) -> list[tuple[int, int, float]]:
    """All tempo marks as (measure, tick, quarters a minute) in time order, one a moment."""
    first_at: dict[tuple[int, int], float] = {}
    for walk in walks:
        for measure, tick, qpm in walk.tempos:
            first_at.setdefault((measure, tick), qpm)
    return [(measure, tick, qpm) for (measure, tick), qpm in sorted(first_at.items())]


def measures_of(
    columns: Sequence[Sequence[WalkedMeasure]],
    lengths: Sequence[int],
    movements: Sequence[int],
    tempos: Sequence[tuple[int, int, float]],
    resolution: int,
) -> tuple[Measure, ...]:
    """The measures with their onsets, meters, tempo in force at the start, rehearsal marks."""
    measures = []
    onset, tempo, waiting = 0, None, list(reversed(tempos))
    for index, column in enumerate(columns):
        while waiting and (waiting[-1][0], waiting[-1][1]) <= (index, 0):
            tempo = waiting.pop()[2]
        metered = next((view for view in column if view.nominal is not None), column[0])
        measures.append(
            Measure(
                index=index,
                printed=column[0].printed or str(index + 1),
                movement=movements[index],
                onset_quarters=Fraction(onset, resolution),
                length_quarters=Fraction(lengths[index], resolution),
                beats=metered.beats,
                beat_unit=metered.beat_unit,
                tempo_qpm=tempo,
                rehearsal=next((view.rehearsal for view in column if view.rehearsal), None),
            )
        )
        onset += lengths[index]
    return tuple(measures)


def with_beats(measures: tuple[Measure, ...], walks: Sequence[PartWalk]) -> tuple[Measure, ...]:
    """The measures with the note value that the tempo in force is printed in.

    A movement begins without one: its meter may be another.
    """
    beats = list(reversed(printed_beats(walks)))
    force, marked = None, []
    for before, measure in zip((None, *measures), measures, strict=False):
        if before is not None and before.movement != measure.movement:
            force = None
        while beats and beats[-1][:2] <= (measure.index, 0):
            force = beats.pop()[2]
        marked.append(replace(measure, tempo_beat_quarters=force) if force else measure)
    return tuple(marked)


def notes_of(
    walk: PartWalk, lengths: Sequence[int], resolution: int
) -> list[tuple[Draft, Note]]:
    """The part's notes in time order (then staff, voice, pitch), each with its draft."""
    starts = [0, *accumulate(lengths)]

    @cache
    def quarters(ticks: int) -> Fraction:
        return Fraction(ticks, resolution)

    levels = _levels(walk)
    drafts = sorted(
        walk.drafts,
        key=lambda draft: (
            starts[draft.measure] + draft.tick,
            draft.staff,
            _voice_order(draft.voice),
            draft.written if draft.written is not None else 0,
        ),
    )
    return [
        (
            draft,
            Note(
                onset_quarters=quarters(starts[draft.measure] + draft.tick),
                duration_quarters=quarters(draft.ticks),
                midi=draft.midi,
                measure=draft.measure,
                written_midi=draft.written,
                drum=draft.drum,
                voice=draft.voice,
                staff=draft.staff,
                marks=frozenset(draft.marks),
                dynamic=levels(draft),
                lyric=draft.lyric,
            ),
        )
        for draft in drafts
    ]


def _levels(walk: PartWalk) -> Callable[[Draft], str | None]:
    """A function from a draft to the dynamic in force at its onset on its staff."""
    by_staff: dict[int, list[tuple[int, int, str]]] = {}
    for measure, tick, staff, level in sorted(walk.dynamics, key=lambda mark: mark[:3]):
        by_staff.setdefault(staff, []).append((measure, tick, level))

    def level_at(draft: Draft) -> str | None:
        marks = by_staff.get(draft.staff) or by_staff.get(1) or []
        before = bisect_right(marks, (draft.measure, draft.tick, "~"))
        return marks[before - 1][2] if before else None

    return level_at


def _voice_order(voice: str) -> tuple[int, str]:
    """Sort key that puts voice 2 before voice 10."""
    number = whole_in(voice)
    return (1_000_000, voice) if number is None else (number, "")


def _part(
    index: int,
    element: etree._Element,
    identity: PartIdentity,
    walk: PartWalk,
    lengths: Sequence[int],
    resolution: int,
) -> Part:
    """One part with its notes placed in the whole score."""
    row = row_of(element)
    notes = tuple(note for _, note in notes_of(walk, lengths, resolution))
    voices = sorted({note.voice for note in notes}, key=_voice_order)
    return Part(
        index=index,
        name=identity.name,
        instrument=instrument_of(identity.name, row, walk.transposition),
        transposition_semitones=walk.transposition,
        notes=notes,
        staves=walk.staves,
        voices=tuple(voices) or ("1",),
        key_fifths=_keys(walk, len(lengths)),
        signs=_signs(walk, lengths, resolution),
    )


def _keys(walk: PartWalk, count: int) -> tuple[int, ...]:
    """The written key signature in force in each of ``count`` measures; 0 before any."""
    keys, force, waiting = [], 0, list(reversed(walk.keys))
    for at in range(count):
        while waiting and waiting[-1][0] <= at:
            force = waiting.pop()[1]
        keys.append(force)
    return tuple(keys)


def _signs(walk: PartWalk, lengths: Sequence[int], resolution: int) -> tuple[Sign, ...]:
    """The part's signs placed in the whole score, in time order."""
    starts = [0, *accumulate(lengths)]

    def at(measure: int, tick: int) -> Fraction:
        return Fraction(starts[min(measure, len(lengths))] + tick, resolution)

    signs = [
        Sign(
            draft.kind,
            at(draft.measure, draft.tick),
            at(draft.end_measure, draft.end_tick),
            draft.measure,
            draft.staff,
            draft.count,
        )
        for draft in walk.signs
    ]
    return tuple(sorted(signs, key=lambda sign: (sign.onset_quarters, sign.kind)))


def _odd_measures(
    columns: Sequence[Sequence[WalkedMeasure]],
    lengths: Sequence[int],
    movements: Sequence[int],
    resolution: int,
) -> list[Remark]:
    """Remarks on measures longer or shorter than their meter, and on parts that disagree."""
    remarks = []
    for at, column in enumerate(columns):
        nominal = next((view.nominal for view in column if view.nominal is not None), None)
        filled = {view.content for view in column if view.content}
        if len(filled) > 1:
            remarks.append(
                Remark("parts_disagree", "Parts fill this measure to different lengths.", None, at)
            )
        if nominal is None or lengths[at] == nominal or not filled:
            continue
        quarters = Fraction(lengths[at], resolution)
        meter = Fraction(nominal, resolution)
        if lengths[at] > nominal:
            sentence = f"This measure holds {quarters} quarters, its meter {meter}."
            remarks.append(Remark("overfull", sentence, None, at))
        elif not _short_with_reason(columns, lengths, movements, at, nominal):
            sentence = f"This measure holds {quarters} quarters of the {meter} of its meter."
            remarks.append(Remark("underfull", sentence, None, at))
    return remarks


def _short_with_reason(
    columns: Sequence[Sequence[WalkedMeasure]],
    lengths: Sequence[int],
    movements: Sequence[int],
    at: int,
    nominal: int,
) -> bool:
    """True for a pickup, an implicit bar, the last bar, or half of a bar that is split in two."""
    last = at == len(columns) - 1 or movements[at + 1] != movements[at]
    first = at == 0 or movements[at - 1] != movements[at]
    if first or last or any(view.implicit for view in columns[at]):
        return True
    return nominal - lengths[at] in (lengths[at - 1], lengths[at + 1])


def title_of(root: etree._Element) -> str:
    """The work's title, else the movement's, else the first line printed as a title."""
    for path in ("work/work-title", "movement-title"):
        text = " ".join((root.findtext(path) or "").split())
        if text:
            return text
    for credit in root.iterfind("credit"):
        if credit.findtext("credit-type") == "title":
            return " ".join((credit.findtext("credit-words") or "").split())
    return ""


def _composer(root: etree._Element) -> str:
    """The composer's name, empty when the file names none."""
    for creator in root.iterfind("identification/creator"):
        if creator.get("type") == "composer":
            return " ".join((creator.text or "").split())
    return ""


def _movement_names(
    root: etree._Element,
    columns: Sequence[Sequence[WalkedMeasure]],
    movements: Sequence[int],
) -> tuple[str, ...]:
    """A name for each movement: the file's movement title, else its heading, else its number."""
    count = movements[-1] + 1 if movements else 1
    if count == 1:
        title = " ".join((root.findtext("movement-title") or "").split())
        return (title or title_of(root) or "1",)
    names = []
    for movement in range(count):
        column = columns[movements.index(movement)]
        heading = next((view.heading for view in column if view.heading), "")
        names.append(heading or f"Movement {movement + 1}")
    return tuple(names)
