"""What a musician does with an answer."""

from __future__ import annotations

from django.db import transaction
from django.utils import timezone

from standlight.programme.models import Answer


@transaction.atomic
def open_answer(answer: Answer) -> None:
    """Note when the musician first opened the answer; a second time changes nothing."""
    Answer.objects.filter(pk=answer.pk, seen_at=None).update(seen_at=timezone.now())
