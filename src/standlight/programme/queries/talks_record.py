"""What talks hold of one musician, for the file of everything kept."""

from __future__ import annotations

from typing import Any

from standlight.programme.models import Account, Musician, Talk, TalkAsked, TalkRuleRest
from standlight.programme.queries.talks_rules import RULE_NAMES

Json = dict[str, Any]


def talk_rows(account: Account, musician: Musician) -> Json:
    """Requests, noted talks and rules at rest of ``musician``, as far as ``account`` sees them."""
    asked = TalkAsked.objects.visible_to(account).filter(musician=musician)
    talks = Talk.objects.visible_to(account).filter(musician=musician)
    rests = TalkRuleRest.objects.visible_to(account).filter(musician=musician)
    return {
        "talks_asked_for": [
            {
                "ensemble": row.ensemble.name,
                "asked_at": row.asked_at,
                "words": row.words,
                "read_at": row.read_at,
                "over_at": row.talked_at,
            }
            for row in asked.select_related("ensemble")
        ],
        "talks": [
            {
                "ensemble": row.ensemble.name,
                "held_on": row.held_on,
                "with": row.held_by.shown_name,
                "words": row.words,
                "agreed": [
                    {"step": step.words, "by": step.due_on, "done_at": step.done_at}
                    for step in row.steps.all()
                ],
            }
            for row in talks.select_related("ensemble", "held_by").prefetch_related("steps")
        ],
        "talk_rules_at_rest": [
            {
                "ensemble": row.ensemble.name,
                "rule": RULE_NAMES.get(row.code, row.code),
                "until": row.until,
            }
            for row in rests.select_related("ensemble")
        ],
    }
