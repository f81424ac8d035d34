"""The page of a talk cut to what is read in two minutes and printed on one sheet. Pure.

What a musician or a director wrote is cut at words, with a sign; nothing is told in other words.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from standlight.programme.queries.talks_rules import ASKED
from standlight.programme.queries.talks_sides import shortened
from standlight.programme.queries.talks_values import ActsTable, Block, TalkLine, TalkPage

MOST_WORDS = 400
"""Words of the page beside its headings: two minutes hold 476 (Brysbaert 2019, Journal of Memory
and Language 109:104047: 238 words a minute), less those of headings and feet."""

LINES_OF_A_BLOCK = 5

NOT_ON_PAPER = ASKED
"""The rule whose sentence is left out: that somebody asked for a talk is not for whoever finds the
sheet, or sits beside them."""


@dataclass(frozen=True, slots=True)
class Cut:
    """How far a page is cut: words of a line, goals, acts and steps; ``only_apart`` leaves out
    the acts on which both sides agree.
    """

    line: int
    goals: int
    acts: int
    steps: int
    only_apart: bool


CUTS = (
    Cut(60, 2, 12, 5, False),
    Cut(40, 2, 12, 5, True),
    Cut(25, 1, 5, 4, True),
    Cut(16, 1, 4, 3, True),
)
"""Tried one after the other; the last holds whatever was written (our choice)."""


def on_one_page(page: TalkPage) -> TalkPage:
    """``page`` by the first cut that leaves at most `MOST_WORDS`, else by the last."""
    for cut in CUTS:
        short = _cut(page, cut)
        if words_on(short) <= MOST_WORDS:
            break
    return short


def words_on(page: TalkPage) -> int:
    """Words of a page but its headings: reasons, both sides, tables and agreed steps."""
    return sum(len(text.split()) for text in _texts(page))


def _texts(page: TalkPage) -> Iterator[str]:
    """Every text that is read on the page."""
    sides = page.sides
    yield from (reason.sentence for reason in page.reasons)
    for block in (*sides.said, *sides.seen):
        yield block.heading
        yield from block.lines
    if sides.levels is not None:
        for row in sides.levels.rows:
            yield from (row.criterion, row.own, row.given)
    if sides.acts is not None:
        for act, _ in sides.acts.rows:
            yield from (act.act, act.said, act.seen)
    for talk in page.talks[:1]:
        yield from (step.words for step in talk.steps)


def _cut(page: TalkPage, cut: Cut) -> TalkPage:
    """The page with its lines and lists cut."""
    sides = page.sides
    goals = [block for block in sides.said if block.is_goal][: cut.goals]
    others = [block for block in sides.said if not block.is_goal]
    said = tuple(_block(block, cut) for block in (*goals, *others))
    return replace(
        page,
        reasons=tuple(one for one in page.reasons if one.code != NOT_ON_PAPER),
        sides=replace(
            sides,
            said=said,
            seen=tuple(_block(block, cut) for block in sides.seen),
            acts=None if sides.acts is None else _acts(sides.acts, cut),
        ),
        talks=tuple(_talk(talk, cut) for talk in page.talks[:1]),
    )


def _block(block: Block, cut: Cut) -> Block:
    """A block with its lines cut, and no more of them than a goal has."""
    lines = (shortened(line, cut.line) for line in block.lines[:LINES_OF_A_BLOCK])
    return replace(block, lines=tuple(lines))


def _acts(acts: ActsTable, cut: Cut) -> ActsTable:
    """The acts that part ways first where not all of them stand; in the form's own order."""
    rows = tuple(pair for pair in acts.rows if pair[1]) if cut.only_apart else acts.rows
    shown = (rows or acts.rows)[: cut.acts]
    return replace(acts, rows=shown, n_left_out=len(acts.rows) - len(shown))


def _talk(talk: TalkLine, cut: Cut) -> TalkLine:
    """A talk's steps, cut."""
    steps = (replace(step, words=shortened(step.words, cut.line)) for step in talk.steps)
    return replace(talk, steps=tuple(steps)[: cut.steps])
