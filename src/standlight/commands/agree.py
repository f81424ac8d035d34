"""``./run agree RATINGS.csv``: how far raters agree, with intervals, for people or as JSON."""

from __future__ import annotations

import argparse
import json
import sys
from dataclasses import asdict
from pathlib import Path

from standlight.commands._tables import table_text
from standlight.ratings import (
    Agreement,
    AgreementFigure,
    RatedGrid,
    TypedRatings,
    agree,
    read_rating_table,
)
from standlight.ratings.agreement_figure import CONFIDENCE

NAME = "agree"
SUMMARY = "How far raters agree on a table of ratings: kappas, alphas, intraclass correlations, W."

_PAIRS_SHOWN = 10


def arguments(parser: argparse.ArgumentParser) -> None:
    """The table, the seed of the resamples, and whether JSON is wanted."""
    parser.add_argument(
        "file", type=Path, metavar="RATINGS.csv",
        help="student,task,rater and a column a criterion, or student,task,rater,criterion,level",
    )  # fmt: skip
    parser.add_argument("--seed", type=_seed, default=0, help="of the bootstrap; default 0")
    parser.add_argument("--json", action="store_true", help="answer with one JSON object")


def run(options: argparse.Namespace) -> int:
    """Print the figures; 0, or 1 when cells or rows had to be left out.

    Raises FileNotFoundError for a table that is not there, `StandlightError` for one that
    cannot be read.
    """
    typed = read_rating_table(table_text(options.file), options.file.name)
    found = [(rated, agree(rated.grid, seed=options.seed)) for rated in typed.grids]
    if options.json:
        json.dump(as_json(typed, found, options.seed), sys.stdout, allow_nan=False)
        sys.stdout.write("\n")
    else:
        sys.stdout.write("\n".join(_words(rated, agreement) for rated, agreement in found))
    for sentence in (*typed.faults, *typed.remarks):
        sys.stderr.write(f"{options.file.name}: {sentence}\n")
    return 1 if typed.faults else 0


def as_json(
    typed: TypedRatings, found: list[tuple[RatedGrid, Agreement]], seed: int
) -> dict[str, object]:
    """The answer as one JSON object; raters are named, shares are from 0 to 1."""
    return {
        "confidence": CONFIDENCE,
        "seed": seed,
        "criteria": [
            {
                "criterion": rated.criterion,
                "rater_class": rated.rater_class,
                "raters": list(rated.raters),
                "n_objects": agreement.n_objects,
                "figures": {key: asdict(figure) for key, figure in agreement.figures},
                "pairs": [
                    {
                        "raters": [rated.raters[place] for place in pair.raters],
                        "figures": {key: asdict(figure) for key, figure in pair.figures},
                    }
                    for pair in agreement.pairs
                ],
            }
            for rated, agreement in found
        ],
        "faults": list(typed.faults),
        "remarks": list(typed.remarks),
    }


def _seed(text: str) -> int:
    """A whole number from 0, for argparse."""
    if not (text.isascii() and text.isdigit()):
        raise argparse.ArgumentTypeError(f"{text} is no whole number from 0")
    return int(text)


def _words(rated: RatedGrid, agreement: Agreement) -> str:
    """One criterion's figures as lines for a person."""
    of_class = f" ({rated.rater_class})" if rated.rater_class else ""
    lines = [
        f"{rated.criterion}{of_class}: {_count(agreement.n_objects, 'recording')}, "
        f"{_count(agreement.n_raters, 'rater')}"
    ]
    lines += [f"  {line(figure)}" for _, figure in agreement.figures]
    for pair in agreement.pairs[:_PAIRS_SHOWN]:
        one, other = (rated.raters[place] for place in pair.raters)
        lines.append(f"  {one} and {other}:")
        lines += [f"    {line(figure)}" for _, figure in pair.figures]
    if len(agreement.pairs) > _PAIRS_SHOWN:
        lines.append(f"  ... and {len(agreement.pairs) - _PAIRS_SHOWN} more (--json lists them)")
    return "\n".join(lines) + "\n"


def _count(n: int, thing: str) -> str:
    """A number of things."""
    return f"{n} {thing}{'' if n == 1 else 's'}"


def line(figure: AgreementFigure) -> str:
    """One figure for people: value, interval, what it rests on, or the reason for none.

    >>> line(AgreementFigure("kappa", 0.5, 0.25, 0.75, 40, 2, 3))
    'kappa: 0.50 (0.25 to 0.75), from 40 recordings; 3 left out.'
    """
    if figure.estimate is None:
        return f"{figure.name}: no figure. {figure.because}"
    between = "" if figure.low is None else f" ({figure.low:.2f} to {figure.high:.2f})"
    left_out = f"; {figure.n_left_out} left out" if figure.n_left_out else ""
    said = f"{figure.name}: {figure.estimate:.2f}{between}, "
    said += f"from {_count(figure.n_objects, 'recording')}{left_out}."
    if figure.test and figure.test.name == "chi-square":
        said += f" Chi-square {figure.test.value:.2f}, df {figure.test.df[0]:g}."
    return f"{said} {figure.because}".rstrip()
