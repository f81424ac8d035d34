"""What a director does with the comment bank beside adding and changing lines: say it otherwise."""

from __future__ import annotations

from django.db import transaction

from standlight.errors import StandlightError
from standlight.programme.actions.answers import one_line
from standlight.programme.fill_ins import checked_line, open_fill_ins
from standlight.programme.languages import LANGUAGES
from standlight.programme.models import CommentLine, LineTranslation


@transaction.atomic
def translate_line(line: CommentLine, language: str, text: str) -> LineTranslation | None:
    """Keep a line in another language, in the director's own words; no words take it away.

    Raises ``StandlightError`` for a language that is none of the table, words too long, and a
    fill-in that the line itself does not have.
    """
    if language not in LANGUAGES:
        raise StandlightError(f"{language!r} is no language of the list", slip="choose one")
    text = checked_line(one_line(text, "line"))
    if not text:
        LineTranslation.objects.filter(line=line, language=language).delete()
        return None
    more = set(open_fill_ins(text)) - set(open_fill_ins(line.text))
    if more:
        raise StandlightError(
            f"the line itself has no {{{min(more)}}}", slip="use the same fill-ins as in the line"
        )
    kept, _ = LineTranslation.objects.update_or_create(
        line=line, language=language, defaults={"text": text}
    )
    return kept
