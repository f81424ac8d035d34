"""How true growth is told: planted school years, many seeded runs.

A year of 12 occasions, 3 criteria, 150 students in 3 ensembles; true slope .8 logit a year (SD
.6), occasion SD .5, task difficulties drawn (SD .6), anchors: one passage first and last. Asked:
95 percent intervals of slopes cover .93 to .97 unpooled, .90 or more pooled. Beside it each
criterion's own lines (one level an occasion), a year without anchors and with two passages three
times (what the group's figure says), flags of growth where there is none, and a section that
stopped. The peer is the plain straight line through the mean levels, and its growth of the group.

Usage: python benchmarks/growth_recovery.py [RUNS [lines] [groups] [flags] [sections]]
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "src"))
sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
import numpy as np

from benchmarks.machine import machine
from standlight.ratings.given import GivenRating
from standlight.ratings.growth import _drawn, _lines, _sections
from standlight.ratings.growth_gather import gather_given
from standlight.ratings.growth_lines import lines_of

OCCASIONS, CRITERIA, THRESHOLDS = 12, 3, np.array([-1.5, 0.0, 1.5])
CUMULATED = np.concatenate([[0.0], np.cumsum(THRESHOLDS)])
ANCHORS = {
    "no passage again": {},
    "one passage first and last": {0: 0, 11: 0},
    "two passages three times": {0: 0, 5: 0, 11: 0, 1: 1, 6: 1, 10: 1},
}


def planted(seed: int, anchors: dict, *, sizes=(5, 8, 10, 12, 15), n_ensembles=3, growth=0.8,
            spread=0.6, middle=0.3, stopped=None, since=-0.5, pace=0.0, harder=0.0):
    """Levels of one year, and each student's true slope (logits a year).

    ``stopped`` is an (ensemble, section) whose members grow at ``pace`` times ``growth`` on
    average, ``since`` a time in years from the middle; tasks get ``harder`` by so much a year.
    """
    random = np.random.default_rng(seed)
    times = np.linspace(-0.5, 0.5, OCCASIONS)
    given, slopes = [], {}
    criteria = np.array([-0.4, 0.0, 0.4])
    for ensemble in range(n_ensembles):
        hard = random.normal(0, 0.6, OCCASIONS) + harder * times
        strict = random.normal(0, 0.4)
        for section, size in enumerate(sizes):
            for chair in range(size):
                student = f"e{ensemble}s{section}m{chair:02}"
                slope, place = random.normal(growth, spread), random.normal(middle, 1.1)
                halt = stopped == (ensemble, section)
                slopes[student] = random.normal(pace * growth, spread) if halt else slope
                for number, time in enumerate(times):
                    task = anchors.get(number, number)
                    path = slope * time
                    if halt and time > since:
                        path = slope * since + slopes[student] * (time - since)
                    day = random.normal(0, 0.5)
                    for criterion, steep in enumerate(criteria):
                        logit = place + path + day - hard[task] - strict - steep
                        weight = np.exp(np.arange(4) * logit - CUMULATED)
                        level = int((weight.cumsum() / weight.sum() < random.random()).sum()) + 1
                        given.append(GivenRating(
                            student, f"e{ensemble}", f"s{section}", "horn", f"e{ensemble}t{task}",
                            f"{student}/{number}", 365 * (time + 0.5), 365 * (time + 0.5) + 1,
                            f"c{criterion}", f"r{ensemble}", level))
    return given, slopes


def covered(drawn, slopes):
    """(own covers, pooled covers, own error, pooled error, own on true, pooled spread)."""
    true = np.array([slopes[key.student] for key in drawn.table.keys])
    rows = []
    for value, variance in ((drawn.own, drawn.own_variance), (drawn.pooled, drawn.pooled_variance)):
        rows.append((np.mean(np.abs(value - true) < 1.96 * variance**0.5),
                     np.sqrt(np.mean((value - true) ** 2))))
    return [rows[0][0], rows[1][0], rows[0][1], rows[1][1],
            np.polyfit(true, drawn.own, 1)[0], np.mean(drawn.lines.fit.spread.slope)]


def lines_told(runs: int) -> None:
    """Coverage of the lines' slopes, anchored."""
    print("\nlines, anchored: one passage first and last      cover own  pooled   rmse own  pooled"
          "  own/true  spread")
    for middle in (0.3, 1.5):
        table: dict[str, list] = {}
        for seed in range(runs):
            given, slopes = planted(seed, ANCHORS["one passage first and last"], middle=middle)
            gathered, _ = gather_given(given)
            together = lines_of(gathered, "")
            table.setdefault("all criteria", []).append(
                covered(_drawn(gathered, together), slopes))
            for name in gathered.criteria[:1]:
                lines = lines_of(gathered, name, together.fit.spread)
                table.setdefault("one criterion, one level an occasion", []).append(
                    covered(_drawn(gathered, lines), slopes))
        for name, each in table.items():
            figures = "     ".join(f"{value:.3f}" for value in np.mean(each, axis=0))
            print(f"middle {middle}: {name:38} {figures}", flush=True)


def groups_told(runs: int) -> None:
    """What the group's figure says: in logits, the truth is the group's own mean slope."""
    print("\ngroup, true .80 a year                found   bias   cover  told of  plain levels")
    for name, anchors in ANCHORS.items():
        found, away, cover, plain, told = [], [], [], [], 0
        for seed in range(runs):
            given, slopes = planted(seed, anchors)
            gathered, _ = gather_given(given)
            drawn = _drawn(gathered, lines_of(gathered, ""))
            levels = np.array([row.level for row in given])
            plain.append(np.polyfit([row.day / 365 for row in given], levels, 1)[0])
            for ensemble, group in drawn.groups.items():
                if not group.anchored:
                    continue
                true = np.mean([slope for each, slope in slopes.items()
                                if each.startswith(ensemble)])
                told += 1
                found.append(group.slope)
                away.append(group.slope - true)
                cover.append(abs(group.slope - true) < 1.96 * group.variance**0.5)
        figures = (f"{np.mean(found):6.2f} {np.mean(away):6.3f}  {np.mean(cover):.3f}"
                   if found else "refused: no passage asked again")
        print(f"{name:36} {figures}  {told} of {3 * runs}; plain line through levels"
              f" {np.mean(plain):.2f} (SD {np.std(plain):.2f}) points", flush=True)


def flags_told(runs: int) -> None:
    """How often a line is said to rise: where it grows .8 (SD .6), and where nobody grows."""
    print("\nflags of growth                      own line  pooled line  reliable change")
    for name, growth, spread in (("true .8 (SD .6)", 0.8, 0.6), ("nobody grows", 0.0, 0.0)):
        rows = []
        for seed in range(runs):
            given, _ = planted(seed, ANCHORS["two passages three times"], growth=growth,
                               spread=spread)
            gathered, _ = gather_given(given)
            rows += [(line.state == "rising", line.pooled.low > 0,
                      line.change.sure and line.change.index > 0)
                     for line in _lines(_drawn(gathered, lines_of(gathered, "")))]
        print(f"{name:36}" + "   ".join(f"{value:9.3f}" for value in np.mean(rows, axis=0)),
              flush=True)


def sections_told(runs: int) -> None:
    """Years with a section that stopped, by its size, and years without one."""
    print("\nsections: 15 of 5 to 15 in 3 ensembles, group grows 1.25      found   falsely (years)")
    settings = [("none stopped", None, -0.5, 0.0)]
    settings += [(f"one of {size} stopped all year", (1, place), -0.5, 0.0)
                 for place, size in enumerate((5, 8, 10, 12, 15))]
    settings += [("one of 15 stopped at the middle", (1, 4), 0.0, 0.0),
                 ("one of 15 grew half as fast (said to have stopped is wrong)", (1, 4), -0.5, 0.5)]
    for name, stopped, since, pace in settings:
        found = false = 0
        for seed in range(runs):
            given, _ = planted(seed, ANCHORS["one passage first and last"], growth=1.25, spread=0.4,
                               stopped=stopped, since=since, pace=pace)
            gathered, _ = gather_given(given)
            drawn = _drawn(gathered, lines_of(gathered, ""))
            said = {(each.ensemble, each.section) for each in _sections(drawn, ()) if each.stopped}
            planted_ = None if stopped is None else (f"e{stopped[0]}", f"s{stopped[1]}")
            found += planted_ in said
            false += bool(said - {planted_})
        print(f"{name:60}{found:3} of {runs}   {false:3}", flush=True)


def main() -> int:
    """Plant, measure, compare, print."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 20
    parts = sys.argv[2:] or list(PARTS)
    print(f"machine: {machine()}; {runs} runs")
    for part in parts:
        PARTS[part](runs)
    return 0


PARTS = {"lines": lines_told, "groups": groups_told, "flags": flags_told,
         "sections": sections_told}


if __name__ == "__main__":
    raise SystemExit(main())
