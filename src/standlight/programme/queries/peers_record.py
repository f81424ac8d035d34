"""What is kept of one musician from hearing each other: what they said and what they were told.

Nobody else's name is in it, nor a line that its director keeps back.
"""

from __future__ import annotations

from typing import Any

from standlight.criteria import CRITERIA
from standlight.programme.models import Account, Musician, PeerConsent, PeerHearing, PeerLine
from standlight.programme.queries.peers_mine import line_heading
from standlight.ratings.levels import level_name

Json = dict[str, Any]


def peer_record(account: Account, musician: Musician) -> Json:
    """What the musician said, heard and was told, in the groups that ``account`` sees."""
    # Musicians read that a no is told to nobody: a director who makes the file is somebody.
    answers = PeerConsent.objects.visible_to(account).filter(musician=musician, said_yes=True)
    hearings = PeerHearing.objects.visible_to(account).filter(
        listener=musician, sent_at__isnull=False
    )
    told = PeerLine.objects.visible_to(account).filter(
        hearing__turn__musician=musician, passed=True
    )
    return {
        "others_may_hear": [
            {"check": row.round.check_row.title, "since": row.said_at}
            for row in answers.select_related("round__check_row")
        ],
        "heard_of_others": [
            _hearing(row) for row in hearings.select_related("round__check_row__piece")
        ],
        "told_by_others": [
            _line(row) for row in told.select_related("hearing__round__check_row__piece")
        ],
    }


def _hearing(row: PeerHearing) -> Json:
    """One take that the musician heard: what they gave and wrote, not whose it was."""
    levels = row.levels.filter(retired_at__isnull=True).order_by("pk")
    return {
        "check": row.round.check_row.title,
        "sent_at": row.sent_at,
        "levels": {CRITERIA[one.criterion].name: level_name(one.value) for one in levels},
        "wrote": [
            _line(one) for one in row.lines.select_related("hearing__round__check_row__piece")
        ],
    }


def _line(row: PeerLine) -> Json:
    """One line with what it is about."""
    check = row.hearing.round.check_row
    return {"check": check.title, "about": line_heading(row, check), "words": row.words}
