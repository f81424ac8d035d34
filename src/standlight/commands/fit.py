"""``./run fit RATINGS.csv``: fair measures from ratings, for people or as one JSON object."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from standlight.commands._tables import table_text
from standlight.ratings.facet_design import MODELS, RATING_SCALE
from standlight.ratings.fit_table import OBJECTS, STUDENT, read_fit_table
from standlight.ratings.measures import ElementMeasure, FacetFit, measure_facets

NAME = "fit"
SUMMARY = "Fair measures from a table of ratings: students, tasks, criteria, raters, and errors."

_STUDENTS_SHOWN, _FAULTS_SHOWN = 30, 12


def arguments(parser: argparse.ArgumentParser) -> None:
    """The table, the model, what is measured, and whether JSON is wanted."""
    parser.add_argument(
        "file", type=Path, metavar="RATINGS.csv",
        help="student,task,rater and a column a criterion, or student,task,rater,criterion,level",
    )  # fmt: skip
    parser.add_argument(
        "--model", choices=MODELS, default=RATING_SCALE,
        help="one set of thresholds for all criteria (default), or one for each",
    )  # fmt: skip
    parser.add_argument(
        "--object", choices=OBJECTS, default=STUDENT, help="what is measured; default student"
    )
    parser.add_argument("--json", action="store_true", help="answer with one JSON object")


def run(options: argparse.Namespace) -> int:
    """Print the measures; 0, or 1 when cells or rows had to be left out.

    Raises FileNotFoundError for a table that is not there, `StandlightError` for one that
    cannot be read or tells nothing apart.
    """
    table = read_fit_table(table_text(options.file), options.file.name, options.object)
    fit = measure_facets(table.ratings, options.model, table.by_student)
    if options.json:
        json.dump(as_json(fit), sys.stdout, allow_nan=False, ensure_ascii=False)
        sys.stdout.write("\n")
    else:
        sys.stdout.write("\n".join(_lines(fit)) + "\n")
    for sentence in table.faults[:_FAULTS_SHOWN]:
        sys.stderr.write(f"{options.file.name}: {sentence}\n")
    if len(table.faults) > _FAULTS_SHOWN:
        sys.stderr.write(f"... and {len(table.faults) - _FAULTS_SHOWN} more.\n")
    return 1 if table.faults else 0


def as_json(fit: FacetFit) -> dict[str, object]:
    """The fit as JSON values, places in logits.

    Every facet sums to zero; ``mean`` is the mean over students of their ensembles' means.
    """
    return {
        "model": fit.model,
        "deviance": fit.deviance,
        "mean": _mean(fit),
        "means": dict(zip(fit.ensembles, fit.means, strict=True)),
        "variance": fit.variance,
        "parameters": [
            {
                "facet": element.facet,
                "element": element.element,
                "logits": element.logits,
                "se": element.se,
                "infit": element.infit,
                "outfit": element.outfit,
                "n_ratings": element.n_ratings,
                "infit_z": element.infit_z,
                "outfit_z": element.outfit_z,
                "real_se": element.real_se,
            }
            for element in fit.elements
        ],
        "thresholds": [
            {
                "criterion": threshold.criterion or None,
                "level": threshold.level,
                "logits": threshold.logits,
                "se": threshold.se,
            }
            for threshold in fit.thresholds
        ],
        "students": [
            {
                "id": student.student,
                "ensemble": student.ensemble or None,
                "eap": student.eap,
                "se": student.se,
                "wle": student.wle,
                "wle_se": student.wle_se,
                "fair": student.fair,
                "n_ratings": student.n_ratings,
                "extreme": student.extreme,
            }
            for student in fit.students
        ],
        "level_use": [
            {
                "criterion": use.criterion or None,
                "level": use.level,
                "n_ratings": use.n_ratings,
                "share": use.share,
                "student_mean": use.student_mean,
                "outfit": use.outfit,
            }
            for use in fit.level_use
        ],
        "reliability": fit.reliability,
        "separation": {
            name: {"separation": found.separation, "reliability": found.reliability}
            for name, found in fit.separations.items()
        },
        "comparable": {
            "student": [list(names) for names in fit.comparable.students],
            **{
                facet: [list(names) for names in classes]
                for facet, classes in fit.comparable.facets.items()
            },
        },
        "remarks": list(fit.remarks),
    }


def _mean(fit: FacetFit) -> float:
    """Mean over students of their ensembles' means (logits)."""
    mean_of = dict(zip(fit.ensembles, fit.means, strict=True))
    return sum(mean_of[student.ensemble] for student in fit.students) / len(fit.students)


def _lines(fit: FacetFit) -> list[str]:
    """The fit for people: places in logits with errors, students in fair levels."""
    lines = [f"{len(fit.students)} measured; deviance {fit.deviance:.2f}"]
    if fit.reliability is not None:
        lines[0] += f"; reliability {fit.reliability:.2f}"
    for facet in dict.fromkeys(element.facet for element in fit.elements):
        own = [element for element in fit.elements if element.facet == facet]
        lines.append(f"{facet} (harder or stricter first):")
        lines += [_element_line(each) for each in sorted(own, key=lambda each: -each.logits)]
    lines.append("fair levels:")
    ranked = sorted(fit.students, key=lambda student: -student.fair)
    lines += [
        f"  {student.student}: {student.fair:.2f}, from {student.n_ratings} ratings"
        for student in ranked[:_STUDENTS_SHOWN]
    ]
    if len(ranked) > _STUDENTS_SHOWN:
        lines.append(f"  ... and {len(ranked) - _STUDENTS_SHOWN} more (--json lists them)")
    return [*lines, *(f"Noticed: {sentence}" for sentence in fit.remarks)]


def _element_line(element: ElementMeasure) -> str:
    """One element for people.

    >>> _element_line(ElementMeasure("rater", "A", 0.5, 0.1, 1.2, 1.3, 40))
    '  A: +0.50 (error 0.10), infit 1.20, outfit 1.30, from 40 ratings'
    """
    return (
        f"  {element.element}: {element.logits:+.2f} (error {element.se:.2f}),"
        f" infit {element.infit:.2f}, outfit {element.outfit:.2f},"
        f" from {element.n_ratings} ratings"
    )
