"""The written side of the demo: levels, answers, remarks and the comment bank as rows."""

from __future__ import annotations

from datetime import timedelta

from django.utils import timezone

from standlight.demo.loading import Loading
from standlight.programme.models import Account, Answer, CommentLine, GivenLevel, Remark

SEEN_SHARE = 4
"""Of so many answers one has not been looked at yet."""


def write_answers(loading: Loading) -> None:
    """Write levels, answers, remarks and comment lines of the scenario being loaded."""
    _levels(loading)
    _answers(loading)
    _remarks(loading)
    CommentLine.objects.bulk_create(
        CommentLine(
            programme=loading.programme,
            criterion=line.criterion,
            place=line.place,
            level=line.level,
            text=line.text,
        )
        for line in loading.plan.comments
    )


def _director(loading: Loading, check_key: str) -> Account:
    """The account of the director whose group a check belongs to."""
    check = next(check for check in loading.plan.checks if check.key == check_key)
    group = next(group for group in loading.plan.groups if group.key == check.group)
    return loading.directors[group.director]


def _levels(loading: Loading) -> None:
    rated = [turn for turn in loading.plan.turns if turn.levels]
    rows = GivenLevel.objects.bulk_create(
        GivenLevel(
            turn=loading.turns[turn.check, turn.roster_id, turn.attempt],
            criterion=criterion,
            value=value,
            rater=_director(loading, turn.check),
        )
        for turn in rated
        for criterion, value in turn.levels
    )
    # The row stamps its own time when it is made; the demo's ratings are older than today.
    when = {
        loading.turns[turn.check, turn.roster_id, turn.attempt].pk: turn.rated_at for turn in rated
    }
    for row in rows:
        row.given_at = timezone.make_aware(when[row.turn_id])
    GivenLevel.objects.bulk_update(rows, ["given_at"], batch_size=200)


def _answers(loading: Loading) -> None:
    answered = [turn for turn in loading.plan.turns if turn.answer]
    rows = []
    for place, turn in enumerate(answered):
        plan = turn.answer
        first, last = plan.measures or (None, None)
        rated_at = timezone.make_aware(turn.rated_at)
        seen = place % SEEN_SHARE != SEEN_SHARE - 1
        rows.append(
            Answer(
                turn=loading.turns[turn.check, turn.roster_id, turn.attempt],
                strength=plan.strength,
                next_step=plan.next_step,
                strategy=plan.strategy,
                first_measure=first,
                last_measure=last,
                written_by=_director(loading, turn.check),
                seen_at=rated_at + timedelta(hours=1) if seen else None,
            )
        )
    Answer.objects.bulk_create(rows)
    for turn, row in zip(answered, rows, strict=True):
        Answer.objects.filter(pk=row.pk).update(written_at=timezone.make_aware(turn.rated_at))


def _remarks(loading: Loading) -> None:
    for plan in loading.plan.remarks:
        musician = loading.musicians.get(plan.author)
        row = Remark.objects.create(
            piece=loading.pieces[plan.piece],
            part=loading.castings.get((plan.piece, plan.author)),
            author=musician.account if musician else loading.directors[plan.author],
            first_measure=plan.first_measure,
            last_measure=plan.last_measure,
            words=plan.words,
        )
        Remark.objects.filter(pk=row.pk).update(made_at=timezone.make_aware(plan.made_at))
