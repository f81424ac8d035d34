"""Errands that play the demo's takes and hear them, one after another, in the background.

Each errand plays and hears one take and asks for the next, so that a take sent by a
person waits behind one of them at most and not behind all. A killed worker's errand
comes back; a second run plays the same samples or finds the take done.
"""

from __future__ import annotations

from datetime import timedelta

from django.conf import settings
from django.db import transaction
from django.db.models import Q
from django.utils import timezone
from django_q.tasks import async_task

from standlight.programme import jobs, store
from standlight.programme.models import Take
from standlight.programme.queries.hearing import passage_of, seat_in

PLAY_NEXT = "standlight.demo.errands.play_next_take"
"""The errand's dotted name, as the engine stores it."""


def ask_for_takes() -> None:
    """Start as many lanes of playing as there are workers, once the transaction is committed."""
    for lane in range(settings.Q_CLUSTER["workers"]):
        transaction.on_commit(lambda lane=lane: async_task(PLAY_NEXT, lane))


def play_next_take(lane: int) -> str:
    """Play and hear the next take that is still to be made, then ask for another."""
    key = _claim_next()
    if key is None:
        return "all played"
    play_take(key)
    jobs.listen_to_take(key)
    async_task(PLAY_NEXT, lane)
    return f"played {key[:8]}"


def _claim_next() -> str | None:
    """The key of the first take to be made, now held by this worker; ``None`` when none is left."""
    now = timezone.now()
    lapsed = now - timedelta(seconds=settings.Q_CLUSTER["timeout"])
    free = Q(claimed_at__isnull=True) | Q(claimed_at__lt=lapsed)
    waiting = Take.objects.filter(
        free,
        # A worker may have been killed between playing and hearing.
        state__in=(Take.ARRIVING, Take.WHOLE),
        made_by_machine=True,
        turn__check_row__ensemble__programme__is_demo=True,
    )
    for key in waiting.order_by("turn_id").values_list("key", flat=True)[:20]:
        held = Take.objects.filter(free, key=key, state__in=(Take.ARRIVING, Take.WHOLE))
        if held.update(claimed_at=now):
            return str(key)
    return None


def play_take(key: str) -> None:
    """Make the sound of a take from the manner kept with it; a take that has its sound stays."""
    # Playing brings numpy and the encoder: only a worker pays for that.
    from standlight.demo.manner import faults_for, from_json
    from standlight.demo.player import encode, play
    from standlight.score import read_passage

    take = Take.objects.select_related("turn__check_row").get(key=key)
    if take.state == Take.ARRIVING:
        passage = passage_of(take.turn)
        notes = read_passage(store.fetch(passage.notation_digest)).notes
        manner = from_json(take.settings["manner"])
        rendered = play(
            notes,
            tempo_qpm=take.turn.check_row.tempo_qpm,
            instrument=passage.part.instrument or seat_in(take.turn).section.instrument,
            faults=faults_for(manner, notes, passage.first_measure),
            seed=manner.seed,
        )
        Take.objects.filter(key=key).update(digest=store.keep(encode(rendered)))
    Take.objects.filter(key=key).update(state=Take.WHOLE, claimed_at=None)
