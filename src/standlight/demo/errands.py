"""Errands that play the demo's takes, one after another, and send each on to be heard.

Each errand plays one take, queues its hearing (the same errand as for any take) and the
next one to play, so that a take sent by a person waits behind a few of them and not
behind all. A killed worker's errand comes back: it then plays another take, and the one
it left is free again when its lease has lapsed.
"""

from __future__ import annotations

from datetime import timedelta

from django.conf import settings
from django.db import transaction
from django.db.models import F, Q
from django.utils import timezone
from django_q.tasks import async_task

from standlight.programme import jobs, store
from standlight.programme.models import Take
from standlight.programme.queries.hearing import passage_of

PLAY_NEXT = "standlight.demo.errands.play_next_take"
"""The errand's dotted name, as the engine stores it."""


def ask_for_takes() -> None:
    """Start as many lanes of playing as there are workers, once the transaction is committed."""
    for lane in range(settings.Q_CLUSTER["workers"]):
        transaction.on_commit(lambda lane=lane: async_task(PLAY_NEXT, lane))


def play_next_take(lane: int) -> str:
    """Play the next take that is still to be made, and queue its hearing and the one after it."""
    key = _claim_next()
    if key is None:
        return "all played"
    digest = store.keep(_sound_of(Take.objects.select_related("turn__check_row").get(key=key)))
    # The queue lies in the same database: either the take is whole and both errands wait, or
    # nothing has happened and the take is played again.
    with transaction.atomic():
        Take.objects.filter(key=key, state=Take.ARRIVING).update(
            digest=digest, state=Take.WHOLE, claimed_at=None
        )
        async_task(jobs.LISTEN, key, task_name=f"take {key[:8]}")
        async_task(PLAY_NEXT, lane)
    return f"played {key[:8]}"


def _claim_next() -> str | None:
    """The key of the first take to be made, now held by this worker; ``None`` when none is left."""
    now = timezone.now()
    lapsed = now - timedelta(seconds=settings.Q_CLUSTER["timeout"])
    free = Q(claimed_at__isnull=True) | Q(claimed_at__lt=lapsed)
    waiting = Take.objects.filter(
        free,
        state=Take.ARRIVING,
        made_by_machine=True,
        turn__check_row__ensemble__programme__is_demo=True,
    )
    # One that was begun and left comes last, so that it cannot stand in the way of the others.
    ordered = waiting.order_by(F("claimed_at").asc(nulls_first=True), "turn_id")
    for key in ordered.values_list("key", flat=True)[:20]:
        if Take.objects.filter(free, key=key, state=Take.ARRIVING).update(claimed_at=now):
            return str(key)
    return None


def _sound_of(take: Take) -> bytes:
    """The take as a file, played from the manner kept with it: the same bytes each time."""
    # Playing brings numpy and the encoder: only a worker pays for that.
    from standlight.demo.manner import faults_for, from_json
    from standlight.demo.player import encode, play
    from standlight.score import read_passage

    passage = passage_of(take.turn)
    if passage is None or passage.part is None:
        raise ValueError(f"take {take.key} has no written passage to play from")
    notes = read_passage(store.fetch(passage.notation_digest)).notes
    manner = from_json(take.settings["manner"])
    rendered = play(
        notes,
        tempo_qpm=take.turn.check_row.tempo_qpm,
        instrument=passage.part.instrument,
        faults=faults_for(manner, notes, passage.first_measure),
        seed=manner.seed,
    )
    return encode(rendered)
