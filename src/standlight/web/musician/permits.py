"""Upload permits: a signed word in the page that lets takes of one turn come in.

A permit stands in for the session, so that a take which is still on its way arrives after
its musician has been signed out (a shared station, a session that ran out). It opens
nothing else: with it pieces of one musician's one attempt at one check may be added, let go
or sent, and nothing can be read.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, datetime

from django.core import signing
from django.utils import timezone

from standlight.errors import NotAllowed
from standlight.programme.actions.takes import Begun

SALT = "standlight.upload-permit"
VALID_SECONDS = 14 * 24 * 3600
"""Two weeks: a laptop left in a locker over a holiday still delivers."""


@dataclass(frozen=True, slots=True)
class Permit:
    """Whose turn it is: musician, check, attempt; whether a shared station recorded it.

    ``opened`` is when the page was opened, in whole seconds since 1970; 0 is now.
    """

    musician: int
    check: int
    attempt: int
    at_station: bool = False
    opened: int = field(default=0, compare=False)

    @property
    def begun(self) -> Begun:
        """Where and when what carries the permit was begun."""
        opened_at = datetime.fromtimestamp(self.opened, UTC) if self.opened else None
        return Begun(self.at_station, opened_at)

    @property
    def turn_key(self) -> tuple[int, int, int]:
        """What the actions ask for."""
        return self.musician, self.check, self.attempt

    def signed(self) -> str:
        """The permit as one word that cannot be changed."""
        return signing.dumps(
            [
                self.musician,
                self.check,
                self.attempt,
                int(self.at_station),
                self.opened or int(timezone.now().timestamp()),
            ],
            salt=SALT,
        )


def read_permit(word: str) -> Permit:
    """The permit that ``word`` carries; raises ``NotAllowed`` when it is not ours or too old."""
    try:
        told = signing.loads(word, salt=SALT, max_age=VALID_SECONDS)
        # A page opened before permits told when carries one number less.
        musician, check, attempt, at_station, opened = (*told, 0) if len(told) == 4 else told
    except signing.SignatureExpired:
        raise NotAllowed(
            "this page is older than two weeks", slip="open the check again and keep the take"
        ) from None
    except (signing.BadSignature, ValueError):
        raise NotAllowed("this upload carries no permit of this programme") from None
    return Permit(musician, check, attempt, bool(at_station), opened)
