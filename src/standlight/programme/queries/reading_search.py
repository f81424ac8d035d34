"""Finding words in what was written: a plain search through the text of every answer.

Nothing is stored, scored or guessed: letters are compared without regard to capitals.
"""

from __future__ import annotations

import unicodedata
from dataclasses import dataclass
from uuid import UUID

from standlight.programme.dates import date_words
from standlight.programme.models import Account, Assignment, Ensemble
from standlight.programme.queries.kinds import kind_in
from standlight.programme.queries.reading import sent_sheets
from standlight.programme.queries.reading_answers import words_of
from standlight.programme.queries.reading_sheet import step_in, what_words

MOST_FOUND = 100
"""Places shown; of more, the number is told."""

AROUND = 90
"""Characters shown before and after the words found."""


@dataclass(frozen=True, slots=True)
class Snippet:
    """Words found in their surroundings."""

    before: str
    found: str
    after: str


@dataclass(frozen=True, slots=True)
class FoundSheet:
    """One answer in which the words stand."""

    assignment_pk: int
    sheet: UUID
    who: str
    title: str
    what: str
    prompt: str
    sent: str
    snippet: Snippet


@dataclass(frozen=True, slots=True)
class SearchPage:
    """What was looked for, where, and what was found, the latest first."""

    query: str
    ensemble_pk: int | None
    ensembles: tuple[tuple[int, str], ...]
    assignment: tuple[int, str] | None
    found: tuple[FoundSheet, ...]
    more: int


def search_page(
    account: Account,
    query: str,
    *,
    ensemble: Ensemble | None = None,
    assignment: Assignment | None = None,
) -> SearchPage:
    """Every sent answer that holds ``query``, in one assignment, one ensemble or all.

    An empty query finds nothing. Three queries.
    """
    query = " ".join(query.split())
    found = list(_found(account, query, ensemble, assignment)) if query else []
    return SearchPage(
        query,
        ensemble.pk if ensemble else None,
        tuple(Ensemble.objects.visible_to(account).values_list("pk", "name")),
        (assignment.pk, assignment.title) if assignment else None,
        tuple(found[:MOST_FOUND]),
        max(0, len(found) - MOST_FOUND),
    )


def _found(
    account: Account, query: str, ensemble: Ensemble | None, assignment: Assignment | None
) -> list[FoundSheet]:
    """All answers with the words."""
    rows = sent_sheets(account).order_by("-sent_at", "key")
    if ensemble is not None:
        rows = rows.filter(assignment__ensemble=ensemble)
    if assignment is not None:
        rows = rows.filter(assignment=assignment)
    assignments = {
        row.pk: row
        for row in Assignment.objects.visible_to(account).select_related("kind", "ensemble")
    }
    found = []
    for key, pk, step_key, number, answers, sent_at, who in rows.values_list(
        "key", "assignment_id", "step", "number", "answers", "sent_at", "author__shown_name"
    ).iterator():
        given = assignments[pk]
        step = step_in(kind_in(given.kind), step_key)
        for field in step.fields:
            snippet = snippet_of(words_of(field, answers.get(field.key)), query)
            if snippet is not None:
                what = what_words(step, number)
                sent = date_words(sent_at)
                found.append(
                    FoundSheet(pk, key, who, given.title, what, field.prompt, sent, snippet)
                )
    return found


def snippet_of(text: str, query: str) -> Snippet | None:
    """The first place of ``query`` in ``text`` without regard to capitals; ``None`` for none.

    >>> snippet_of("Wir hören die STRASSE singen.", "straße")
    Snippet(before='Wir hören die ', found='STRASSE', after=' singen.')
    >>> snippet_of("nothing of it", "viola") is None
    True
    """
    text = " ".join(unicodedata.normalize("NFC", text).split())
    wanted = unicodedata.normalize("NFC", query).casefold()
    if not wanted or wanted not in text.casefold():
        return None
    folded, origin = _folded(text)
    at = folded.find(wanted)
    start, end = origin[at], origin[at + len(wanted) - 1] + 1
    first, last = max(0, start - AROUND), end + AROUND
    before = ("…" if first else "") + text[first:start]
    after = text[end:last] + ("…" if last < len(text) else "")
    return Snippet(before, text[start:end], after)


def _folded(text: str) -> tuple[str, list[int]]:
    """The text without capitals, and for each of its characters where it came from."""
    parts = [letter.casefold() for letter in text]
    origin = [place for place, part in enumerate(parts) for _ in part]
    return "".join(parts), origin
