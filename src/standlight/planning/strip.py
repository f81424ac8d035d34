"""Three voices on the score of one piece, apart: machine, people, musicians; and the spots. Pure.

The voices are never added up where they are shown. They meet only in ``Spot.need``, which orders
the spots. Its rule: in each window of eight measures and each section, troubled measures over
heard measures, a low level counting as a part of a take; the share is drawn towards the piece's
own, the more the less was heard. What it exceeds the piece's own share by, and a stated part of
what the share of worried musicians exceeds its own mean by, is added over the sections, and for
each of the director's remarks a stated part of a section. A need of 1 is one whole section's
worth of trouble beyond what is usual in this piece.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from standlight.planning.laying import Laid, Marks, lay, window_sums
from standlight.planning.outline import Outline
from standlight.planning.shares import Share, wilson
from standlight.planning.voices import (
    DirectorRemark,
    HeardTake,
    Misplaced,
    MusicianRemark,
    RatedTake,
    misplaced,
)

HEARD, LEVELS, DIRECTOR, SAID = "heard", "levels", "director", "said"
VOICES = {
    HEARD: "heard by the machine: takes troubled in this measure, of takes that play it",
    LEVELS: "heard by people: takes with a low level, of rated takes that play it",
    DIRECTOR: "heard by people: the director's remarks; a count, never a share",
    SAID: "said by musicians: those with a worry here, of all who said anything on the piece",
}
"""Lanes of the strip."""

SPOT_MEASURES = 8
"""Longest spot: what a group repeats without losing the thread (common practice, no source)."""

PHRASE_MEASURES = 4
"""Windows in which blind spots and false worries are looked for (our choice)."""

MOST_SPOTS, MOST_FINDINGS = 10, 8
"""How many are listed: more than a rehearsal holds (our choice)."""

NEAR_MEASURES = 2
"""A remark so near trouble may be about it: half a phrase (our choice)."""

SURE_TROUBLE, SURE_CALM = 0.3, 0.5
"""Trouble is sure when the interval of the share of troubled takes lies above the first, and
surely not general when it lies below the second (our choice; the benchmark of the strip counts
how many of the findings are true)."""

FEWEST_TAKES = 3
"""Fewer takes of a section say nothing surely, and could point at a person (as on the picture of
the whole group)."""

FEWEST_SPEAKERS = 3
"""Where fewer musicians of a section spoke at all, their silence says nothing; and fewer could
point at a person."""

FEWEST_WORRIED = 2
"""One musician's worry is that musician's own; two are the section's (our choice)."""

LEVEL_TAKES, SAID_PART, REMARK_NEED = 0.25, 0.5, 0.4
"""What a rated take counts beside one read take, a share of worried musicians beside a share of
troubled takes, and what need one director's remark over a whole window adds. Chosen on the
planted trouble of ``benchmarks/rehearsal_strip.py``, seeds 100 to 139, 600 remarks (0 to 1 tried;
the best differ by less than chance). A level speaks of a whole passage: where readings are it
adds nothing, and on a piece without readings it is all there is. A worry is of what is feared as
much as of what fails."""

PRIOR_TAKE_MEASURES = 8.0
"""So many measures of one take draw a window's share half way from the piece's own (same trial)."""

PRIOR_SPEAKERS = 3.0
"""Speakers that draw a section's share of worried musicians half way from none (our choice)."""

USUAL_SHARE, USUAL_WEIGHT = 0.2, 10.0
"""The share of troubled measures in a piece of which nothing was heard, and the take-measures
that it counts for (our choice)."""

EDGE_SHARE = 0.5
"""A spot ends where a measure's own need falls below this part of the spot's mean need."""

Row = TypeVar("Row", HeardTake, RatedTake, DirectorRemark, MusicianRemark)


@dataclass(frozen=True, slots=True)
class Lane:
    """One voice of one section, a figure a measure: ``hits`` of ``counts``, ``low`` to ``high``.

    The last three are empty for the director's remarks, which are no share of anything.
    """

    voice: str
    section: str
    hits: tuple[int, ...]
    counts: tuple[int, ...] = ()
    low: tuple[float, ...] = ()
    high: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class SectionVoices:
    """What each voice says of a section in some measures: takes, rated takes, remarks, people."""

    section: str
    heard: Share
    levels: Share
    director: int
    said: Share


@dataclass(frozen=True, slots=True)
class Spot:
    """Measures ``first`` to ``last`` worth work; ``need`` in sections' worth of trouble (0 up).

    ``aim`` is the criterion that most of the trouble is about, "" where nobody says;
    ``sections`` holds those that have any trouble there, the most certain first.
    """

    first: int
    last: int
    need: float
    aim: str
    sections: tuple[SectionVoices, ...]


@dataclass(frozen=True, slots=True)
class Finding:
    """A blind spot or a false worry: measures and what each voice says of the section there."""

    first: int
    last: int
    voices: SectionVoices


@dataclass(frozen=True, slots=True)
class Strip:
    """The three voices on one piece, and what follows from them.

    ``blind_spots``: trouble heard by the machine, nobody says. ``false_worries``: said, not heard.
    ``silent_sections``: too few musicians spoke, so that no blind spot can be told there.
    ``needs`` is the need of each measure by itself; ``left_out`` the rows that lie on no measure.
    """

    outline: Outline
    lanes: tuple[Lane, ...]
    spots: tuple[Spot, ...]
    blind_spots: tuple[Finding, ...]
    false_worries: tuple[Finding, ...]
    silent_sections: tuple[str, ...]
    needs: tuple[float, ...]
    left_out: tuple[Misplaced, ...]

    def lane(self, voice: str, section: str) -> Lane:
        """The lane of one voice and section."""
        return next(one for one in self.lanes if (one.voice, one.section) == (voice, section))


def draw_strip(
    outline: Outline,
    takes: Sequence[HeardTake] = (),
    rated: Sequence[RatedTake] = (),
    director: Sequence[DirectorRemark] = (),
    musicians: Sequence[MusicianRemark] = (),
    most_spots: int = MOST_SPOTS,
) -> Strip:
    """Lay everything on the score; rows that lie on no measure are left out and told.

    >>> from standlight.planning.outline import OutlinePart
    >>> whole = frozenset(range(12))
    >>> tune = Outline(tuple("123456789abc"), (OutlinePart("fl", "Flute", whole),))
    >>> takes = [HeardTake(str(n), "fl", whole, (("rhythm", 5), ("rhythm", 6))) for n in range(6)]
    >>> strip = draw_strip(tune, takes, musicians=[MusicianRemark("a", "fl", 40, 41)])
    >>> [(spot.first, spot.last, spot.aim) for spot in strip.spots]
    [(5, 6, 'rhythm')]
    >>> strip.lane("heard", "Flute").hits
    (0, 0, 0, 0, 0, 6, 6, 0, 0, 0, 0, 0)
    >>> strip.left_out[0].code
    'no_measure'
    """
    left_out: list[Misplaced] = []
    takes = _placed(takes, outline, left_out)
    rated = _placed(rated, outline, left_out)
    director = _placed(director, outline, left_out)
    musicians = _placed(musicians, outline, left_out)
    laid = lay(outline, takes, rated, director, musicians)
    needs = _needs(laid, 1)
    aims = _aims(outline, takes, director, musicians)
    spots = tuple(
        Spot(first, last, need, _aim(aims, first, last), _sections(outline, laid, first, last))
        for first, last, need in _spots(outline, laid, needs, most_spots)
    )
    return Strip(
        outline,
        tuple(_lanes(outline, laid)),
        spots,
        _blind_spots(outline, laid),
        _false_worries(outline, laid),
        tuple(
            section
            for section, speakers in zip(outline.sections, laid.speakers, strict=True)
            if speakers < FEWEST_SPEAKERS
        ),
        tuple(needs.tolist()),
        tuple(left_out),
    )


def _placed(rows: Sequence[Row], outline: Outline, left_out: list[Misplaced]) -> list[Row]:
    """The rows that lie on the score; the others are added to ``left_out``."""
    parts = {part.key for part in outline.parts}
    kept = []
    for row in rows:
        known = isinstance(row, MusicianRemark | RatedTake) and row.part in parts
        # Thousands of remarks: what is plainly right is not asked twice.
        if known and 0 <= row.first <= row.last < outline.n_measures:
            kept.append(row)
            continue
        wrong = misplaced(row, outline)
        if wrong is None:
            kept.append(row)
        else:
            left_out.append(wrong)
    return kept


def _lanes(outline: Outline, laid: Laid) -> Iterator[Lane]:
    """Every voice of every section, measure by measure."""
    speakers = np.repeat(laid.speakers[:, None], outline.n_measures, axis=1)
    shares = {
        HEARD: laid.takes(1),
        LEVELS: laid.levels(1),
        SAID: (laid.said.touching(1), speakers),
    }
    for voice, (hits, counts) in shares.items():
        low, high = wilson(hits, counts)
        for row, section in enumerate(outline.sections):
            figures = (grid[row].tolist() for grid in (hits, counts, low, high))
            yield Lane(voice, section, *(tuple(one) for one in figures))
    for section, hits in zip(outline.sections, laid.director.touching(1), strict=True):
        yield Lane(DIRECTOR, section, tuple(hits.tolist()))


def _needs(laid: Laid, width: int) -> np.ndarray:
    """(windows,) need of every window of ``width`` measures, by the rule in the module's words."""
    heard, troubled = laid.heard.measures(width), laid.troubled.measures(width)
    all_heard, all_troubled = laid.heard.measures(1).sum(), laid.troubled.measures(1).sum()
    usual = (all_troubled + USUAL_SHARE * USUAL_WEIGHT) / (all_heard + USUAL_WEIGHT)
    hits = troubled + LEVEL_TAKES * laid.low.measures(width)
    count = heard + LEVEL_TAKES * laid.rated.measures(width)
    prior = PRIOR_TAKE_MEASURES * min(1.0, 2 * width / SPOT_MEASURES)
    excess = (hits + prior * usual) / (count + prior) - usual
    said = laid.said.measures(width) / (laid.speakers[:, None] + PRIOR_SPEAKERS) / width
    excess += SAID_PART * (said - said.mean(axis=1, keepdims=True))
    remarks = window_sums(laid.director.marks, width).sum(axis=0) / width
    return np.maximum(0.0, excess).sum(axis=0) + REMARK_NEED * remarks


def _spots(
    outline: Outline, laid: Laid, needs: np.ndarray, most: int
) -> Iterator[tuple[int, int, float]]:
    """First, last and need of up to ``most`` spots that do not overlap, the greatest need first."""
    width = min(SPOT_MEASURES, outline.n_measures)
    scores = _needs(laid, width)
    scores[_crossing(outline, width)] = 0.0
    for _ in range(most):
        start = int(np.argmax(scores))
        if scores[start] <= 0:
            return
        first, last = _trimmed(needs, start, start + width - 1)
        yield first, last, float(scores[start])
        scores[max(0, start - width + 1) : start + width] = 0.0


def _crossing(outline: Outline, width: int) -> list[int]:
    """Windows that would cross into a later movement."""
    return [
        window
        for start in outline.movement_starts
        for window in range(max(0, start - width + 1), start)
        if window <= outline.n_measures - width
    ]


def _trimmed(needs: np.ndarray, first: int, last: int) -> tuple[int, int]:
    """The window without its calm edges."""
    own = needs[first : last + 1]
    busy = np.flatnonzero(own >= EDGE_SHARE * own.mean())
    return first + int(busy[0]), first + int(busy[-1])


def _aims(
    outline: Outline,
    takes: Sequence[HeardTake],
    director: Sequence[DirectorRemark],
    musicians: Sequence[MusicianRemark],
) -> dict[str, np.ndarray]:
    """(M,) weight of each aim in each measure, with the weights of ``_needs``."""
    aims: dict[str, np.ndarray] = {}

    def add(aim: str, first: int, last: int, weight: float) -> None:
        if aim:
            row = aims.setdefault(aim, np.zeros(outline.n_measures))
            row[first : last + 1] += weight

    for (aim, measure), n in Counter(pair for take in takes for pair in take.troubles).items():
        add(aim, measure, measure, n)
    for remark in director:
        add(remark.aim, remark.first, remark.last, REMARK_NEED)
    for (aim, first, last), n in Counter(
        (row.aim, row.first, row.last) for row in musicians if row.worry
    ).items():
        add(aim, first, last, n * SAID_PART)
    return aims


def _aim(aims: dict[str, np.ndarray], first: int, last: int) -> str:
    """The aim that weighs most in some measures; the first by name decides a tie."""
    weights = {aim: row[first : last + 1].sum() for aim, row in sorted(aims.items())}
    best = max(weights, key=weights.__getitem__, default="")
    return best if best and weights[best] > 0 else ""


def _sections(outline: Outline, laid: Laid, first: int, last: int) -> tuple[SectionVoices, ...]:
    """What every section with trouble has in measures ``first`` to ``last``."""
    window = slice(first, last + 1)
    inside = Laid(
        *(Marks(one.marks[:, window], one.of_section)
          for one in (laid.heard, laid.troubled, laid.rated, laid.low, laid.director, laid.said)),
        laid.speakers,
    )  # fmt: skip
    voices = [
        _voices(outline, row, 0, _window_figures(inside, last - first + 1))
        for row in range(len(outline.sections))
    ]
    speaking = [one for one in voices
                if one.heard.hits or one.levels.hits or one.director or one.said.hits]  # fmt: skip
    return tuple(sorted(speaking, key=lambda one: (-one.heard.low, -one.levels.low,
                                                   -one.director, -one.said.hits)))  # fmt: skip


def _window_figures(laid: Laid, width: int) -> tuple[np.ndarray, ...]:
    """(S, windows) grids: takes troubled, takes, low, rated, remarks, people, speakers."""
    troubled, takes = laid.takes(width)
    said = laid.said.touching(width)
    speakers = np.repeat(laid.speakers[:, None], said.shape[1], axis=1)
    return (troubled, takes, *laid.levels(width), laid.director.touching(width), said,
            speakers)  # fmt: skip


def _voices(
    outline: Outline, row: int, window: int, figures: tuple[np.ndarray, ...]
) -> SectionVoices:
    """One section's figures in one window, as a value."""
    troubled, takes, low, rated, remarks, said, speakers = (
        int(grid[row, window]) for grid in figures
    )
    return SectionVoices(outline.sections[row], Share(troubled, takes), Share(low, rated),
                         remarks, Share(said, speakers))  # fmt: skip


def _blind_spots(outline: Outline, laid: Laid) -> tuple[Finding, ...]:
    """Phrases with sure trouble in a section that could have spoken, and nobody did."""
    width = min(PHRASE_MEASURES, outline.n_measures)
    figures = _window_figures(laid, width)
    troubled, takes, *_, speakers = figures
    low, _ = wilson(troubled, takes)
    remarked = laid.said.touching(1) + laid.director.touching(1)
    sure = (low > SURE_TROUBLE) & (_near(remarked, width) == 0)
    sure &= (takes >= FEWEST_TAKES) & (speakers >= FEWEST_SPEAKERS)
    peak = laid.troubled.measures(width)
    return _findings(outline, width, figures, np.where(sure, low + 1e-6 * peak, -1.0))


def _false_worries(outline: Outline, laid: Laid) -> tuple[Finding, ...]:
    """Phrases that musicians worry about and that neither the machine nor people hear trouble in.

    The most worried first. A director's remark or a low level there speaks against it.
    """
    width = min(PHRASE_MEASURES, outline.n_measures)
    figures = _window_figures(laid, width)
    troubled, takes, low_levels, _, remarks, said, _ = figures
    _, high = wilson(troubled, takes)
    surely, _ = wilson(*laid.takes(1))
    calm = (high < SURE_CALM) & (_near(surely, width) <= SURE_TROUBLE) & (remarks == 0)
    calm &= (low_levels == 0) & (said >= FEWEST_WORRIED)
    whole = laid.said.measures(width)
    return _findings(outline, width, figures, np.where(calm, said + 1e-6 * whole, -1.0))


def _near(by_measure: np.ndarray, width: int) -> np.ndarray:
    """(S, M) to (S, windows): the greatest figure in a window and ``NEAR_MEASURES`` around it."""
    widened = np.pad(by_measure, ((0, 0), (NEAR_MEASURES, NEAR_MEASURES)))
    around = np.lib.stride_tricks.sliding_window_view(widened, width + 2 * NEAR_MEASURES, axis=1)
    return around.max(axis=-1)


def _findings(
    outline: Outline, width: int, figures: tuple[np.ndarray, ...], scores: np.ndarray
) -> tuple[Finding, ...]:
    """Windows by score, the greatest first, apart within a section; those below 0 are none."""
    scores = scores.copy()
    scores[:, _crossing(outline, width)] = -1.0
    found: list[Finding] = []
    while len(found) < MOST_FINDINGS and scores.size:
        row, start = (int(one) for one in np.unravel_index(np.argmax(scores), scores.shape))
        if scores[row, start] < 0:
            break
        voices = _voices(outline, row, start, figures)
        found.append(Finding(start, start + width - 1, voices))
        scores[row, max(0, start - width + 1) : start + width] = -1.0
    return tuple(found)
