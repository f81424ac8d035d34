"""Every figure's words stand in the docs as on the page, and speak plainly."""

import re
from pathlib import Path

import pytest

from standlight.ratings.figures import FIGURES

PAGE = (Path(__file__).parents[2] / "docs/measures.md").read_text()
FIGURES_PART = PAGE.split("## The figures\n")[1].split("\n## ")[0]

# What the pages about raters, growth and tasks show; each must open to its definition.
SHOWN = {
    "agreement_exact", "agreement_within_one", "weighted_kappa", "alpha", "icc", "severity",
    "steadiness", "drift", "one_impression", "fair_level", "growth", "growth_pooled",
    "growth_unpooled", "reliable_change", "anchors", "section_growth", "self_view",
    "task_hardness", "telling_apart", "task_added", "double_rating_error", "comparable",
}  # fmt: skip


def block(figure):
    return (
        f"### {figure.name}\n\n{figure.sentence}\n\n"
        f"- Exactly: {figure.definition}\n"
        f"- Source: {figure.source}\n"
        f"- Says nothing when: {figure.silent_when}\n"
    )


def test_the_docs_hold_every_figure_in_the_same_words_and_order_and_no_other():
    written = "\n".join(block(figure) for figure in FIGURES.values())
    assert FIGURES_PART.strip() == written.strip()


def test_every_figure_that_a_page_shows_is_in_the_table_under_its_own_key():
    assert set(FIGURES) >= SHOWN
    assert all(figure.key == key for key, figure in FIGURES.items())
    names = [figure.name for figure in FIGURES.values()]
    assert len(set(names)) == len(names)


@pytest.mark.parametrize("figure", FIGURES.values(), ids=lambda figure: figure.key)
def test_a_figure_has_all_its_words_and_its_sentence_no_jargon(figure):
    for words in (figure.name, figure.sentence, figure.definition, figure.source,
                  figure.silent_when):  # fmt: skip
        assert words.strip()
    assert figure.sentence.endswith(".")
    assert len(figure.sentence.split()) <= 24
    plain = f"{figure.name} {figure.sentence}".lower()
    for jargon in ("logit", "kappa", "alpha", "rasch", "variance", "standard", "correlation",
                   "facet", "slope", "covariance", "halo", "severity"):  # fmt: skip
        assert not re.search(rf"\b{jargon}", plain), jargon


@pytest.mark.parametrize("heading", ["How the model works", "What was measured",
                                     "Where not to trust it"])  # fmt: skip
def test_the_docs_tell_how_it_works_what_was_measured_and_where_not_to_trust_it(heading):
    body = PAGE.split(f"## {heading}\n")[1].split("\n## ")[0]
    assert len(body.split()) > 60
