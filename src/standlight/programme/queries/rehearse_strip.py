"""The strip of one piece as a page: three voices measure by measure, spots, blind spots, worries.

Places are percent of the width, so that a picture needs no script and stretches with its page.
No name and no take is on it; of a section with too few takes or speakers nothing is told.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from standlight.planning import Finding, Lane, SectionVoices, Share, Spot, Strip
from standlight.programme.dates import date_words
from standlight.programme.models import Piece, PlannedRehearsal, Section, Sheet
from standlight.programme.queries.desk import printed_range
from standlight.programme.queries.rehearse_drawn import WORKED_KINDS
from standlight.programme.queries.rehearse_evidence import (
    FEWEST_WITNESSES,
    PieceStrip,
    may_tell,
    sections_shown,
    strips_of,
    told_voices,
)
from standlight.programme.queries.rehearse_outline import CLASS_SECTION
from standlight.programme.queries.rehearse_words import AIM_TAGS, aim_name, capital, of_words
from standlight.programme.sheet_remarks import index_of

LANE_PX, GAP_PX = 16, 4
"""Height of a lane of the picture, and the room under it."""

SURE_FROM = 0.3
"""A bar is filled where the interval of its share lies above this, else outlined (as the planning
room finds blind spots)."""

SPOTS_SHOWN = 5
"""Spots that stand open on the page; the rest is folded, for a rehearsal holds no more."""

MOST_LISTED = 4
"""Sections named in a line about a spot; the picture and its words hold all."""

TICKS = 8
"""Numbers printed over the picture, about."""

LANES = (("heard", "machine"), ("levels", "people"), ("said", "musicians"))
"""Lanes of a section from top to bottom, with the word beside each; the director's remarks are
dots in the second."""


@dataclass(frozen=True, slots=True)
class Bar:
    """A bar of one measure: place in percent, pixels from the top, and whether it is sure."""

    x: float
    width: float
    y: int
    height: int
    sure: bool


@dataclass(frozen=True, slots=True)
class Span:
    """Measures of which a lane knows something, in percent; or one remark's middle at ``x``."""

    x: float
    width: float
    y: int


@dataclass(frozen=True, slots=True)
class SectionRow:
    """One section's picture, and all of it in words."""

    name: str
    bars: tuple[Bar, ...]
    known: tuple[Span, ...]
    dots: tuple[Span, ...]
    words: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Tick:
    """A number or a rehearsal letter over the picture."""

    x: float
    words: str
    letter: bool


@dataclass(frozen=True, slots=True)
class SpotRow:
    """A spot: where, about what, and what each of the three voices says there, apart.

    ``first`` and ``last`` are 0-based measures.
    """

    first: int
    last: int
    where: str
    aim: str
    heard: str
    people: str
    said: str
    hidden: bool
    in_plan: bool


@dataclass(frozen=True, slots=True)
class Misfit:
    """Something said of a measure that the piece does not have, and the nearest it may mean.

    ``remark_pk`` is 0 where there is nothing to move yet.
    """

    words: str
    nearest: str
    remark_pk: int
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class StripPage:
    """Everything the page of a piece shows; without measures only the question how many."""

    pk: int
    title: str
    ensemble: str
    ensemble_pk: int
    on_paper: bool
    measures: int
    last_printed: str
    counts: str
    unrated: int
    only_rated: bool
    ticks: tuple[Tick, ...]
    rows: tuple[SectionRow, ...]
    called_out: str
    spots: tuple[SpotRow, ...]
    more_spots: tuple[SpotRow, ...]
    blind_spots: tuple[str, ...]
    false_worries: tuple[str, ...]
    silent: str
    too_few: str
    misfits: tuple[Misfit, ...]
    no_measures: tuple[str, ...]
    no_part: int
    sections: tuple[tuple[int, str], ...]
    aims: tuple[tuple[str, str], ...]
    plan_pk: int
    plan_day: str


def strip_page(piece: Piece, plan: PlannedRehearsal | None, *, only_rated: bool) -> StripPage:
    """The page of ``piece`` (with its ensemble); ``plan`` is the next one a spot can go into.

    About twenty queries.
    """
    found = strips_of(piece.ensemble, [piece], only_rated=only_rated).get(piece.pk)
    sections = tuple(
        Section.objects.filter(ensemble=piece.ensemble_id).values_list("pk", "name")
    )
    strip = found.strip if found else None
    planned = _planned(plan, piece)
    spots = tuple(_spot(piece, strip, one, planned) for one in strip.spots) if strip else ()
    voices = found.voices if found else None
    return StripPage(
        pk=piece.pk,
        title=piece.title,
        ensemble=piece.ensemble.name,
        ensemble_pk=piece.ensemble_id,
        on_paper=not piece.measures,
        measures=strip.outline.n_measures if strip else 0,
        last_printed=strip.outline.printed[-1] if strip else "",
        counts=_counts(found) if found else "",
        unrated=voices.unrated if voices else 0,
        only_rated=only_rated,
        ticks=tuple(_ticks(piece, strip)) if strip else (),
        rows=tuple(_rows(piece, strip)) if strip else (),
        called_out=_called_out(piece, strip) if strip else "",
        spots=spots[:SPOTS_SHOWN],
        more_spots=spots[SPOTS_SHOWN:],
        blind_spots=tuple(_blind(piece, one) for one in strip.blind_spots) if strip else (),
        false_worries=tuple(_worry(piece, one) for one in strip.false_worries) if strip else (),
        silent=", ".join(_silent(strip)) if strip else "",
        too_few=", ".join(_too_few(strip)) if strip else "",
        misfits=(*_misfits(found), *_never_placed(found)) if found else (),
        no_measures=tuple(
            f"{count} rated take{'s' * (count > 1)} of “{words}”"
            for words, count in voices.no_measures.items()
        ) if voices else (),
        no_part=voices.no_part if voices else 0,
        sections=sections,
        aims=tuple(AIM_TAGS.items()),
        plan_pk=plan.pk if plan else 0,
        plan_day=date_words(plan.day, "weekday") if plan else "",
    )  # fmt: skip


def _counts(found: PieceStrip) -> str:
    """How much there is to go by, in one line."""
    voices = found.voices
    speakers = len({row.who for row in voices.musicians})
    parts = (
        (len(voices.takes), "take"), (len(voices.rated), "rated take"),
        (len(voices.director), "remark of a director", "remarks of directors"),
        (speakers, "musician who said something", "musicians who said something"),
    )  # fmt: skip
    said = [
        f"{one[0]} {one[1] if one[0] == 1 else (one[2] if len(one) > 2 else one[1] + 's')}"
        for one in parts
        if one[0]
    ]
    return ", ".join(said) or "nothing yet"


def _ticks(piece: Piece, strip: Strip) -> Iterator[Tick]:
    """Printed numbers at even steps, and the rehearsal letters."""
    count = strip.outline.n_measures
    step = max(1, -(-count // TICKS))
    letters = {row["index"]: row["rehearsal"] for row in piece.measures if row.get("rehearsal")}
    for index in range(count):
        place = round(100 * index / count, 3)
        if index in letters:
            yield Tick(place, str(letters[index]), True)
        if index % step == 0:
            yield Tick(place, strip.outline.printed[index], False)


def _rows(piece: Piece, strip: Strip) -> Iterator[SectionRow]:
    """Sections of which anything may be told, under what was remarked to everybody."""
    sections = sections_shown(strip)
    everybody = _to_everybody(strip, sections)
    if any(everybody):
        yield SectionRow(
            "Everybody", (), (), _dots(everybody),
            (("people", _remark_words(piece, everybody)),),
        )  # fmt: skip
    for section in sections:
        lanes = {voice: strip.lane(voice, section) for voice, _ in LANES}
        to_all = strip.lane("director", section).hits
        remarks = tuple(n - all_n for n, all_n in zip(to_all, everybody, strict=True))
        bars, known, words = [], [], []
        for place, (voice, name) in enumerate(LANES):
            lane = lanes[voice]
            top = place * (LANE_PX + GAP_PX)
            bars += _bars(lane, top)
            known += _known(lane, top + LANE_PX)
            said = _lane_words(piece, lane, remarks if voice == "levels" else None)
            if said:
                words.append((name, said))
        dots = _dots(remarks)
        if known or dots:
            yield SectionRow(section, tuple(bars), tuple(known), dots, tuple(words))


def _to_everybody(strip: Strip, sections: Sequence[str]) -> tuple[int, ...]:
    """Directors' remarks of each measure that every section has: those to everybody."""
    lanes = [strip.lane("director", section).hits for section in sections]
    return tuple(min(hits) for hits in zip(*lanes, strict=True)) if len(lanes) > 1 else (
        (0,) * strip.outline.n_measures
    )  # fmt: skip


def _dots(remarks: Sequence[int]) -> tuple[Span, ...]:
    """A dot in the middle of each measure that was remarked on."""
    return tuple(
        Span(round(100 * (m + 0.5) / len(remarks), 3), 0.0, LANE_PX + GAP_PX + LANE_PX // 2)
        for m, hits in enumerate(remarks)
        if hits
    )


def _bars(lane: Lane, top: int) -> Iterator[Bar]:
    """One bar for each measure in which anybody has trouble, as high as the share."""
    width = 100 / len(lane.hits)
    for m, (hits, count) in enumerate(zip(lane.hits, lane.counts, strict=True)):
        if hits and count >= FEWEST_WITNESSES:
            height = max(2, round(LANE_PX * hits / count))
            yield Bar(round(m * width, 3), round(width, 3), top + LANE_PX - height, height,
                      lane.low[m] > SURE_FROM)  # fmt: skip


def _known(lane: Lane, y: int) -> Iterator[Span]:
    """Runs of measures that enough takes or speakers speak of."""
    for first, last in _runs([count >= FEWEST_WITNESSES for count in lane.counts]):
        width = 100 / len(lane.counts)
        yield Span(round(first * width, 3), round((last - first + 1) * width, 3), y)


def _runs(flags: Sequence[object]) -> Iterator[tuple[int, int]]:
    """First and last index of each run of equal, true values."""
    start = 0
    for place in range(1, len(flags) + 1):
        if place == len(flags) or flags[place] != flags[start]:
            if flags[start]:
                yield start, place - 1
            start = place


def _lane_words(piece: Piece, lane: Lane, remarks: Sequence[int] | None) -> str:
    """What a lane says, measure by measure, in words; the director's remarks with the levels."""
    noun = {"heard": "take", "levels": "rated take", "said": "musician"}[lane.voice]
    pairs = [
        (hits, count) if hits and count >= FEWEST_WITNESSES else None
        for hits, count in zip(lane.hits, lane.counts, strict=True)
    ]
    said = [
        f"{printed_range(piece.measures, first, last)}: {of_words(Share(*pairs[first]), noun)}"
        for first, last in _runs(pairs)
    ]
    if remarks is not None and any(remarks):
        said.append(_remark_words(piece, remarks))
    return "; ".join(said)


def _remark_words(piece: Piece, remarks: Sequence[int]) -> str:
    """Directors' remarks, measure by measure, in words."""
    return "; ".join(
        f"{printed_range(piece.measures, first, last)}: "
        f"{remarks[first]} remark{'s' * (remarks[first] > 1)} of a director"
        for first, last in _runs(remarks)
    )


def _called_out(piece: Piece, strip: Strip) -> str:
    """What the group called out, where anybody did."""
    if CLASS_SECTION not in strip.outline.sections:
        return ""
    lane = strip.lane("said", CLASS_SECTION)
    return "; ".join(
        f"{printed_range(piece.measures, first, last)}: {_times(lane.hits[first])}"
        for first, last in _runs(lane.hits)
    )


def _times(n: int) -> str:
    return {1: "once", 2: "twice"}.get(n, f"{n} times")


def _planned(plan: PlannedRehearsal | None, piece: Piece) -> list[tuple[int, int]]:
    """Measures of the piece that the plan works on."""
    if plan is None:
        return []
    rows = plan.blocks.filter(piece=piece, kind__in=WORKED_KINDS, first_measure__isnull=False)
    return list(rows.values_list("first_measure", "last_measure"))


def _spot(
    piece: Piece, strip: Strip, spot: Spot, planned: Sequence[tuple[int, int]]
) -> SpotRow:
    """A spot in words, voice by voice; a voice without trouble says whether it heard anything."""
    told = [told_voices(one) for one in spot.sections]
    hidden = any(
        one.heard.hits and not may_tell(one.heard) or one.levels.hits and not may_tell(one.levels)
        for one in spot.sections
    )
    own = [one for one in told if one.section != CLASS_SECTION]
    called = sum(one.said.hits for one in told if one.section == CLASS_SECTION)
    heard = _listed([(one.section, one.heard) for one in own], "take")
    people = _listed([(one.section, one.levels) for one in own], "rated take")
    remarks = _remarks(own)
    said = _listed([(one.section, one.said) for one in own], "musician")
    if called:
        said.append(f"called out in class {_times(called)}")
    return SpotRow(
        spot.first,
        spot.last,
        printed_range(piece.measures, spot.first, spot.last),
        aim_name(spot.aim),
        ", ".join(heard) or _nothing(strip, "heard", spot, "no take to go by", "no trouble"),
        ", ".join((*people, *remarks))
        or _nothing(strip, "levels", spot, "no rated take to go by", "no low level, no remark"),
        ", ".join(said) or _nothing(strip, "said", spot, "too few spoke", "nothing"),
        hidden,
        any(first <= spot.last and last >= spot.first for first, last in planned),
    )


def _nothing(strip: Strip, voice: str, spot: Spot, unknown: str, calm: str) -> str:
    """What a voice without trouble in a spot says: that it knows nothing, or that all is calm."""
    window = slice(spot.first, spot.last + 1)
    counts = (
        max(strip.lane(voice, name).counts[window], default=0) for name in sections_shown(strip)
    )
    return calm if max(counts, default=0) >= FEWEST_WITNESSES else unknown


def _listed(shares: Sequence[tuple[str, Share]], of: str) -> list[str]:
    """The sections with most trouble, each with its share; the rest is counted.

    >>> _listed([("Flute", Share(2, 5)), ("Oboe", Share(0, 4)), ("Horn", Share(3, 4))], "take")
    ['Horn: 3 of 4 takes', 'Flute: 2 of 5']
    """
    rows = sorted((row for row in shares if row[1].hits), key=lambda row: -row[1].low)
    said = [
        f"{name}: {of_words(share, of) if place == 0 else f'{share.hits} of {share.count}'}"
        for place, (name, share) in enumerate(rows[:MOST_LISTED])
    ]
    more = len(rows) - MOST_LISTED
    return said + ([f"and {more} more section{'s' * (more > 1)}"] if more > 0 else [])


def _remarks(sections: Sequence[SectionVoices]) -> tuple[str, ...]:
    """Directors' remarks on a spot; one to everybody stands in every section and is told once."""
    most = max((one.director for one in sections), default=0)
    return (f"a director remarked {_times(most)}",) if most else ()


def _blind(piece: Piece, one: Finding) -> str:
    """A blind spot as a sentence."""
    where = capital(printed_range(piece.measures, one.first, one.last))
    return (
        f"{where}, {one.voices.section}: trouble heard in {of_words(one.voices.heard, 'take')}, "
        "and nobody says it."
    )


def _worry(piece: Piece, one: Finding) -> str:
    """A false worry as a sentence."""
    where = capital(printed_range(piece.measures, one.first, one.last))
    heard = one.voices.heard
    fine = (
        f"trouble heard in {of_words(heard, 'take')} only" if may_tell(heard) and heard.hits
        else f"no trouble heard in {heard.count} takes" if may_tell(heard)
        else "nobody hears trouble there"
    )  # fmt: skip
    return f"{where}, {one.voices.section}: {of_words(one.voices.said, 'musician')} worry, {fine}."


def _silent(strip: Strip) -> Iterator[str]:
    """Sections in which trouble may be heard and too few have spoken to call it a blind spot."""
    for section in strip.silent_sections:
        lane = strip.lane("heard", section)
        if max(lane.counts, default=0) >= FEWEST_WITNESSES:
            yield section


def _too_few(strip: Strip) -> Iterator[str]:
    """Sections of which some takes are known, and too few to tell anything."""
    for section in sections_shown(strip):
        if 0 < max(strip.lane("heard", section).counts, default=0) < FEWEST_WITNESSES:
            yield section


def _misfits(found: PieceStrip) -> Iterator[Misfit]:
    """Remarks that are kept and lie on no measure of the piece."""
    for one in found.strip.left_out:
        pk = found.voices.remark_pks.get(id(one.row))
        if pk is None or one.first is None or one.last is None:
            continue
        first, last = getattr(one.row, "first", 0), getattr(one.row, "last", 0)
        said = f"measure {first + 1}" if first == last else f"measures {first + 1} to {last + 1}"
        nearest = printed_range(found.piece.measures, one.first, one.last)
        yield Misfit(f"A remark is on {said}.", nearest, pk, one.first, one.last)


def _never_placed(found: PieceStrip) -> Iterator[Misfit]:
    """Measures written on sheets that the piece does not print: no remark could be made of them."""
    printed = [int(one) for one in found.strip.outline.printed if one.isdigit()]
    rows = Sheet.objects.filter(
        assignment__ensemble=found.piece.ensemble_id, sent_at__isnull=False, author__role="musician"
    ).values_list("answers", "assignment__piece_id", "sent_at")
    for answers, piece_pk, _ in rows.order_by("-sent_at")[:MOST_SHEETS]:
        for number, title in _numbers(answers):
            own = title == found.piece.title or (not title and piece_pk == found.piece.pk)
            if own and printed and index_of(found.piece, number) is None:
                near = min(printed, key=lambda one: abs(one - number))
                yield Misfit(f"A musician wrote measure {number}.", f"measure {near}", 0, 0, 0)


MOST_SHEETS = 400
"""Newest sheets that are looked through for measures which the piece does not have."""


def _numbers(answer: object) -> Iterator[tuple[int, str]]:
    """(printed measure, title or "") of every place in the answers of a sheet."""
    if isinstance(answer, list):
        for one in answer:
            yield from _numbers(one)
    elif isinstance(answer, dict):
        title = str(answer.get("piece") or "")
        for key in ("from_measure", "to_measure", "measure"):
            if isinstance(answer.get(key), int):
                yield answer[key], title
        for one in answer.values():
            if isinstance(one, dict | list):
                yield from _numbers(one)
