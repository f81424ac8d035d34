"""Dynamics: how much louder the loud regions are than the soft ones, inside one take."""

from __future__ import annotations

import numpy as np

from standlight.criteria.figures import median_interval, t_95
from standlight.criteria.values import EVERYONE, Criterion, Reading
from standlight.music import LOUDNESS_ORDER
from standlight.passages import Asks, Held, counted
from standlight.sound.values import Performance

KEY = "dynamics"
NAME = "loud minus soft"

FEWEST_NOTES = 3
"""Notes needed on each side of a contrast (our choice)."""

LITTLE_LU = 3.0
"""Under this a contrast is called little: a level change of 1 dB is just heard (textbook)."""


def read(performance: Performance) -> tuple[Reading, ...]:
    """Contrast between the loudest and the softest marked dynamic of the take, in LU, each
    marking against the next one where there are three or more, and accents over plain notes.

    Only inside one take and only where the recording's loudness can be believed.
    """
    contrast = _contrast(performance)
    return (contrast, *_steps(performance), _accents(performance))


ACCENTS = frozenset({"accent", "marcato"})

FEWEST_ACCENTS = 3
"""Accented notes needed for a figure (our choice)."""

JUST_HEARD_LU = 1.0
"""Smallest noticeable change of level, about 1 dB (textbook, from memory)."""


def _by_mark(performance: Performance) -> dict[str, list[float]]:
    """Loudness of heard notes by the dynamic in force, accented ones left out."""
    by_mark: dict[str, list[float]] = {}
    for written, heard in zip(performance.passage.notes, performance.notes, strict=True):
        if written.dynamic not in LOUDNESS_ORDER or heard.loudness_lkfs is None:
            continue
        if not written.marks & ACCENTS:
            by_mark.setdefault(written.dynamic, []).append(heard.loudness_lkfs)
    return by_mark


def _steps(performance: Performance) -> tuple[Reading, ...]:
    """Each marking against the next softer one, where three or more markings are heard."""
    by_mark = _by_mark(performance) if performance.loudness_trusted else {}
    marks = [m for m in LOUDNESS_ORDER if len(by_mark.get(m, [])) >= FEWEST_NOTES]
    if len(marks) < 3:
        return ()
    return tuple(
        _between(f"{loud} minus {soft}", soft, loud, by_mark[soft], by_mark[loud])
        for soft, loud in zip(marks, marks[1:], strict=False)
    )


def _between(
    name: str, soft: str, loud: str, softer: list[float], louder: list[float]
) -> Reading:
    """Mean loudness of one marking less that of a softer one, with Welch's interval."""
    low, high = np.array(softer), np.array(louder)
    contrast = float(high.mean() - low.mean())
    parts = low.var(ddof=1) / len(low), high.var(ddof=1) / len(high)
    se = float(np.sqrt(sum(parts)))
    shares = parts[0] ** 2 / (len(low) - 1) + parts[1] ** 2 / (len(high) - 1)
    freedom = max(1, int(sum(parts) ** 2 / shares)) if shares > 0.0 else len(low) + len(high) - 2
    reach = t_95(freedom) * se
    words = f"{loud} is clearly louder than {soft}."
    if contrast < LITTLE_LU:
        words = f"Little contrast is heard between {soft} and {loud}."
    if contrast < -JUST_HEARD_LU and contrast + reach < 0.0:
        words = f"{loud} is softer than {soft}."
    return Reading(
        KEY, name, contrast, contrast - reach, contrast + reach, "LU",
        len(low) + len(high), sentence=words,
    )  # fmt: skip


def _accents(performance: Performance) -> Reading:
    """Accented notes against the middle of the plain notes under the same marking, in LU."""
    name = "accents over plain notes"
    plain: dict[str | None, list[float]] = {}
    for written, heard in zip(performance.passage.notes, performance.notes, strict=True):
        if heard.loudness_lkfs is not None and not written.marks & ACCENTS:
            plain.setdefault(written.dynamic, []).append(heard.loudness_lkfs)
    over = [
        heard.loudness_lkfs - float(np.median(plain[written.dynamic]))
        for written, heard in zip(performance.passage.notes, performance.notes, strict=True)
        if heard.loudness_lkfs is not None
        and written.marks & ACCENTS
        and len(plain.get(written.dynamic, [])) >= FEWEST_NOTES
    ]
    because = ""
    if not performance.loudness_trusted:
        because = "the recording is overloaded, so its loudness cannot be believed"
    elif len(over) < FEWEST_ACCENTS:
        because = f"only {len(over)} accents among plain notes; {FEWEST_ACCENTS} are needed"
    if because:
        return Reading(KEY, name, None, None, None, "LU", len(over), because=because)
    value, low, high = median_interval(over)
    words = "Accents stand out." if value >= JUST_HEARD_LU else "Accents hardly stand out."
    return Reading(KEY, name, value, low, high, "LU", len(over), sentence=words)


def _contrast(performance: Performance) -> Reading:
    """The loudest marking against the softest one, or why there is no contrast to measure."""
    if not performance.loudness_trusted:
        return _absent("the recording is overloaded, so its loudness cannot be believed", 0)
    by_mark = _by_mark(performance)
    marks = [m for m in LOUDNESS_ORDER if len(by_mark.get(m, [])) >= FEWEST_NOTES]
    count = sum(len(levels) for levels in by_mark.values())
    if len(marks) < 2:
        because = (
            f"fewer than two dynamic markings have {FEWEST_NOTES} heard notes each, "
            "so there is no contrast to measure"
        )
        return _absent(because, count)
    soft, loud = marks[0], marks[-1]
    return _between(NAME, soft, loud, by_mark[soft], by_mark[loud])


def _absent(because: str, count: int) -> Reading:
    """The reading of this criterion when there is no figure, with the reason."""
    return Reading(KEY, NAME, None, None, None, "LU", count, because=because)


def _shows(held: Held) -> np.ndarray:
    """Levels beyond the first and hairpins; two levels, or a level and a hairpin, are half."""
    contrast = 0.5 * np.maximum(held.distinct_dynamics - 1, 0)
    return contrast + 0.4 * np.minimum(held.hairpins, 2)


def _words(held: Held) -> str:
    """From the softest to the loudest, and the hairpins."""
    soft, loud = int(held.softest[0]), int(held.loudest[0])
    said = []
    if soft >= 0:
        levels = LOUDNESS_ORDER[soft], LOUDNESS_ORDER[loud]
        said.append(levels[0] if soft == loud else f"{levels[0]} to {levels[1]}")
    said += [counted(int(held.hairpins[0]), "hairpin")] if held.hairpins[0] else []
    return ", ".join(said) or "none written"


ASKS = Asks(_shows, _words, needs="two written levels, or a hairpin")
"""Dynamics are heard where they change."""


CRITERION = Criterion(
    key="dynamics",
    name="Dynamics",
    question="Can a listener hear the written loud and soft?",
    descriptors={
        1: "It is all one loudness, or loud and soft come by accident.",
        2: "A little change can be heard, mostly at the biggest markings.",
        3: "Loud and soft are clearly different where they are written.",
        4: "Every marking is heard, changes grow smoothly, and the sound stays good.",
    },
    families=EVERYONE,
    read=read,
    asks=ASKS,
)
"""Dynamics, read by the tool beside the director's ear."""
