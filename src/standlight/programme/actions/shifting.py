"""A musician's own version of a passage: one line of it, an octave away or in another key.

No version costs its musician anything.

Always moved from the passage itself, never from an older version, so that a change of mind
costs no spelling. Until that musician has sent something; then what was sung is what stands.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from django.db import transaction
from django.db.models import Q, QuerySet
from django.utils import timezone

from standlight.errors import NotAllowed, StandlightError
from standlight.programme import store
from standlight.programme.accommodations import SHORTER
from standlight.programme.actions.passages import cut_rows
from standlight.programme.jobs import ask_to_listen
from standlight.programme.models import (
    Account,
    Casting,
    CheckPassage,
    CheckTerms,
    Ensemble,
    Musician,
    OwnVersion,
    Part,
    PlayingCheck,
    Report,
    Seat,
    Take,
    Turn,
)
from standlight.programme.notation import ask_to_draw
from standlight.programme.starts import drawn_start
from standlight.score import (
    LINES,
    LOWER,
    UPPER,
    checked_line,
    cut_passage,
    is_divided,
    midi_named,
    on_line,
    read_passage,
    shift_notation,
)

HALVES = "halves"
PLANS = (HALVES, *LINES)
"""What a whole part can be given at once: its first half the upper line and the rest the
lower, or everyone the same."""


@dataclass(frozen=True, slots=True)
class Wish:
    """A version as it is wished for, apart from any passage: who has which part how."""

    part_pk: int
    musician_pk: int
    semitones: int
    asked_by_pk: int
    line: str = UPPER


@transaction.atomic
def set_own_version(
    account: Account, passage: CheckPassage, musician: Musician, semitones: int
) -> OwnVersion | None:
    """Move ``passage`` by ``semitones`` for one musician, who keeps their line.

    On the upper line 0 takes the version away (``None``).

    Raises `NotAllowed` for another's ensemble, someone who does not have this part, or once
    they have sent something; `StandlightError` when the passage cannot be moved so.
    """
    _may_direct(account, passage.check_row.ensemble_id)
    if musician.pk not in _cast_to(passage):
        raise NotAllowed(f"{musician.name} does not have this part")
    if musician.pk in _have_sent(passage):
        raise NotAllowed(
            f"{musician.name} has already sent this passage, so it stays",
            slip="make a new check for another version",
        )
    line = _lines_set(passage).get(musician.pk, UPPER)
    return _set(account.pk, passage, musician.pk, semitones, line)


@transaction.atomic
def set_part_version(account: Account, passage: CheckPassage, semitones: int) -> int:
    """Move ``passage`` for everyone who has its part today; for how many it was set.

    Who has already sent something keeps what they sang. Raises as `set_own_version`.
    """
    _may_direct(account, passage.check_row.ensemble_id)
    free, lines = sorted(_cast_to(passage) - _have_sent(passage)), _lines_set(passage)
    for musician_pk in free:
        _set(account.pk, passage, musician_pk, semitones, lines.get(musician_pk, UPPER))
    return len(free)


@transaction.atomic
def set_lines(account: Account, passage: CheckPassage, lines: Mapping[int, str]) -> int:
    """Give musicians (by key) their line of a divided passage; for how many it changed.

    How far a version is moved stays. Who has already sent something keeps what they played.
    Raises `NotAllowed` for another's ensemble and someone who does not have this part,
    `StandlightError` for no such line and for a passage that does not divide.
    """
    _may_direct(account, passage.check_row.ensemble_id)
    if not set(lines) <= _cast_to(passage):
        raise NotAllowed("somebody here does not have this part", slip="an old page? Load it again")
    wanted = {pk: checked_line(line) for pk, line in lines.items()}
    if set(wanted.values()) - {UPPER} and not _divides(passage):
        raise StandlightError(
            f"measures {passage.printed} do not divide in {passage.part}: there is one line",
            slip="was the passage moved?",
        )
    sent, now = _have_sent(passage), _lines_set(passage)
    moved = dict(_versions(passage).values_list("musician_id", "semitones"))
    changed = [
        pk for pk in sorted(wanted) if pk not in sent and wanted[pk] != now.get(pk, UPPER)
    ]
    for pk in changed:
        _set(account.pk, passage, pk, moved.get(pk, 0), wanted[pk])
    return len(changed)


def planned_lines(passage: CheckPassage, plan: str) -> dict[int, str]:
    """The line of everyone on the part by a plan of ``PLANS``, in the order they were cast.

    By halves the first of an odd number more has the upper line. Raises `StandlightError`
    for no such plan.
    """
    players = list(
        dict.fromkeys(_castings(passage).order_by("pk").values_list("seat__musician_id", flat=True))
    )
    if plan != HALVES:
        return dict.fromkeys(players, checked_line(plan))
    upper = (len(players) + 1) // 2
    return {pk: UPPER if place < upper else LOWER for place, pk in enumerate(players)}


@transaction.atomic
def mark_range(
    account: Account, seat: Seat, lowest: str, highest: str, *, voice_changing: bool
) -> None:
    """Keep a singer's comfortable range as pitch names; an empty end is open, both is none.

    Raises `StandlightError` for what is no pitch or stands upside down.
    """
    _may_direct(account, seat.section.ensemble_id)
    low, high = _midi_named(lowest), _midi_named(highest)
    if low is not None and high is not None and low > high:
        raise StandlightError(
            "the lowest comfortable note is above the highest", slip="typed the wrong way round?"
        )
    seat.comfort_low_midi, seat.comfort_high_midi = low, high
    seat.voice_changing = voice_changing
    seat.save(update_fields=["comfort_low_midi", "comfort_high_midi", "voice_changing"])


@transaction.atomic
def passages_follow(account: Account, musician: Musician, check: PlayingCheck | None = None) -> int:
    """Give the musician's own versions the length that is agreed; how many were looked at.

    For one check, or for all that are open. What they have sent stays as it was. Nothing happens
    where no notation is.
    """
    rows = CheckPassage.objects.visible_to(account).filter(
        part__castings__seat__musician=musician, check_row__published_at__isnull=False
    ).exclude(notation_digest="")
    if check is not None:
        rows = rows.filter(check_row=check)
    free = [row for row in rows.distinct() if musician.pk not in _have_sent(row)]
    for passage in free:
        own = _versions(passage).filter(musician=musician).first()
        moved, line = (own.semitones, own.line) if own is not None else (0, UPPER)
        _set(account.pk, passage, musician.pk, moved, line)
    return len(free)


@transaction.atomic
def shorten_where_agreed(account: Account, check: PlayingCheck) -> int:
    """Own versions of half the length for those with whom that is agreed; how many musicians."""
    players = Musician.objects.filter(seats__section__ensemble=check.ensemble_id).distinct()
    # SQLite cannot look inside a list of JSON, and a group is small.
    agreed = [one for one in players if SHORTER in one.accommodations]
    for musician in agreed:
        passages_follow(account, musician, check)
    return len(agreed)


@transaction.atomic
def starts_follow(asked_by_pk: int, check: PlayingCheck, *, only: int | None = None) -> None:
    """Give everyone on a part of ``check`` the start that its terms draw, or the whole passage.

    For ``only`` one musician it is done once: a version that has its start is left alone. What
    was sent stays as it was.
    """
    for passage in check.passages.exclude(notation_digest="").filter(part__isnull=False):
        there = {one.musician_id: one for one in _versions(passage)}
        for musician_pk in sorted(_cast_to(passage) - _have_sent(passage)):
            own = there.get(musician_pk)
            if only is not None and (musician_pk != only or (own is not None and own.skipped)):
                continue
            moved, line = (own.semitones, own.line) if own is not None else (0, UPPER)
            if only is None or _drawn(passage, musician_pk):
                _set(asked_by_pk, passage, musician_pk, moved, line)


def _drawn(passage: CheckPassage, musician_pk: int) -> int:
    """Measures that the terms draw for the musician to leave out."""
    shorter = _is_shorter(Musician.objects.get(pk=musician_pk))
    return _skipped(passage.pk, passage.notation_digest, musician_pk, shorter=shorter)


def versions_again(rows: Sequence[CheckPassage]) -> int:
    """Make every own version of these passages anew from their present notation; how many.

    For passages that have just been cut again. Where a part now has no notation its versions
    go. Raises `StandlightError` when a version cannot be moved so far in the new place.
    """
    notations = {row.pk: row.notation_digest for row in rows}
    rows_of_versions = OwnVersion.objects.filter(passage__in=notations)
    versions = list(rows_of_versions.select_related("musician"))
    gone = [one.pk for one in versions if not notations[one.passage_id]]
    OwnVersion.objects.filter(pk__in=gone).delete()
    kept = [one for one in versions if notations[one.passage_id]]
    for one in kept:
        digest, shorter = notations[one.passage_id], _is_shorter(one.musician)
        one.skipped = _skipped(one.passage_id, digest, one.musician_id, shorter=shorter)
        one.notation_digest = _made(
            digest, one.semitones, one.line, shorter=shorter, skipped=one.skipped
        )
    OwnVersion.objects.bulk_update(kept, ["notation_digest", "skipped"])
    ask_to_draw([one.notation_digest for one in kept])
    return len(kept)


@transaction.atomic
def kept_takes_again(rows: Sequence[CheckPassage]) -> None:
    """Let what is kept but not sent be read against these passages, whose music is another now."""
    for row in rows:
        _hear_kept_again(row, _cast_to(row))


def wishes_of(check: PlayingCheck) -> tuple[Wish, ...]:
    """The check's own versions as wishes, to be kept while its passages are proposed anew."""
    versions = OwnVersion.objects.filter(passage__check_row=check, passage__part__isnull=False)
    return tuple(
        Wish(one.passage.part_id, one.musician_id, one.semitones, one.asked_by_id, one.line)
        for one in versions.select_related("passage")
    )


@transaction.atomic
def wishes_again(check: PlayingCheck, wishes: Sequence[Wish]) -> int:
    """Make versions of the check's present passages for earlier wishes; how many came back."""
    passages = {row.part_id: row for row in check.passages.exclude(notation_digest="")}
    fitting = [wish for wish in wishes if wish.part_pk in passages]
    for wish in fitting:
        passage = passages[wish.part_pk]
        _set(wish.asked_by_pk, passage, wish.musician_pk, wish.semitones, wish.line)
    return len(fitting)


def part_cut_again(part: Part) -> list[CheckPassage]:
    """The part's passages cut anew in checks nobody has sent anything for; not saved.

    For a part whose octave has been put right. The score is read here, so this belongs before
    a transaction, not into it.
    """
    rows = list(_free_rows(part).select_related("part__piece"))
    for row in rows:
        row.part = part
    if rows:
        cut_rows(store.fetch(part.piece.score_digest), rows)
    return rows


@transaction.atomic
def keep_part_cut(part: Part, rows: Sequence[CheckPassage]) -> int:
    """Save what `part_cut_again` has cut, own versions with it; how many.

    A check that somebody has sent something for meanwhile keeps what was played.
    """
    free = set(_free_rows(part).values_list("pk", flat=True))
    rows = [row for row in rows if row.pk in free]
    CheckPassage.objects.bulk_update(rows, ["notation_digest", "printed"])
    ask_to_draw([row.notation_digest for row in rows])
    versions_again(rows)
    kept_takes_again(rows)
    return len(rows)


def _free_rows(part: Part) -> QuerySet[CheckPassage]:
    """The part's passages with measures in checks that nobody has sent anything for."""
    sent = Turn.objects.filter(sent_at__isnull=False).values("check_row")
    rows = CheckPassage.objects.filter(part=part, first_measure__isnull=False)
    return rows.exclude(check_row__in=sent)


def _set(
    asked_by_pk: int, passage: CheckPassage, musician_pk: int, semitones: int, line: str
) -> OwnVersion | None:
    """Make, change or take away one version; what was kept but not sent is heard anew."""
    if not passage.notation_digest:
        raise StandlightError(
            "this passage is on paper only, so it cannot be set otherwise here",
            slip="say it in the note to the musicians",
        )
    shorter = _is_shorter(Musician.objects.get(pk=musician_pk))
    skipped = _skipped(passage.pk, passage.notation_digest, musician_pk, shorter=shorter)
    if semitones == 0 and line == UPPER and not shorter and not skipped:
        OwnVersion.objects.filter(passage=passage, musician=musician_pk).delete()
        _hear_kept_again(passage, [musician_pk])
        return None
    version, _ = OwnVersion.objects.update_or_create(
        passage=passage,
        musician_id=musician_pk,
        defaults={
            "semitones": semitones,
            "line": line,
            "skipped": skipped,
            "notation_digest": _made(
                passage.notation_digest, semitones, line, shorter=shorter, skipped=skipped
            ),
            "asked_by_id": asked_by_pk,
        },
    )
    ask_to_draw([version.notation_digest])
    _hear_kept_again(passage, [musician_pk])
    return version


def _is_shorter(musician: Musician) -> bool:
    """True when the first half of a passage is agreed to be enough for the musician."""
    return SHORTER in musician.accommodations


def _skipped(passage_pk: int, notation_digest: str, musician_pk: int, *, shorter: bool) -> int:
    """Measures before the musician's own start; none where half a passage is agreed anyway."""
    terms = CheckTerms.objects.filter(check_row__passages=passage_pk, own_start=True).first()
    if terms is None or shorter:
        return 0
    measures = len(read_passage(store.fetch(notation_digest)).measures)
    return drawn_start(terms.seed, musician_pk, measures)


def _made(
    notation_digest: str, semitones: int, line: str, *, shorter: bool, skipped: int = 0
) -> str:
    """The digest of the kept notation on one line, moved; ``shorter`` is its first half.

    Without its first ``skipped`` measures, where a musician has an own start.
    """
    notation = on_line(store.fetch(notation_digest), line=line)
    if skipped:
        measures = len(read_passage(notation).measures)
        notation = cut_passage(notation, 0, skipped, measures - 1)
    if shorter:
        measures = len(read_passage(notation).measures)
        notation = cut_passage(notation, 0, 0, (measures + 1) // 2 - 1)
    # Strokes have lines too, but nothing to move.
    made = shift_notation(notation, semitones=semitones) if semitones else notation
    return store.keep(made)


def _versions(passage: CheckPassage) -> QuerySet[OwnVersion]:
    """The passage's own versions."""
    return OwnVersion.objects.filter(passage=passage)


def _lines_set(passage: CheckPassage) -> dict[int, str]:
    """The lines of those who have a version of their own, by musician."""
    return dict(_versions(passage).values_list("musician_id", "line"))


def _divides(passage: CheckPassage) -> bool:
    """True when the passage has notation that divides."""
    digest = passage.notation_digest
    return bool(digest) and is_divided(store.fetch(digest))


def _hear_kept_again(passage: CheckPassage, musician_pks: Collection[int]) -> None:
    """Let takes that are kept but not sent be read against the new music."""
    takes = Take.objects.filter(
        turn__check_row=passage.check_row_id,
        turn__musician__in=musician_pks,
        turn__sent_at__isnull=True,
        state=Take.HEARD,
    )
    for take in list(takes):
        Report.objects.filter(take=take).delete()
        take.state, take.claimed_at = Take.WHOLE, None
        take.save(update_fields=["state", "claimed_at"])
        ask_to_listen(take)


def _cast_to(passage: CheckPassage) -> set[int]:
    """Musicians who sit in the ensemble today and have the passage's part."""
    return set(_castings(passage).values_list("seat__musician_id", flat=True))


def _castings(passage: CheckPassage) -> QuerySet[Casting]:
    """The castings to the passage's part of those who sit in the ensemble today."""
    left = Q(seat__left_on__isnull=False) & Q(seat__left_on__lte=timezone.localdate())
    return Casting.objects.filter(part=passage.part_id).exclude(left)


def _have_sent(passage: CheckPassage) -> set[int]:
    """Musicians who have sent something for the passage's check."""
    turns = Turn.objects.filter(check_row=passage.check_row_id, sent_at__isnull=False)
    return set(turns.values_list("musician_id", flat=True))


def _midi_named(text: str) -> int | None:
    """The MIDI number of a typed pitch, ``None`` for an empty text."""
    return midi_named(text) if text.strip() else None


def _may_direct(account: Account, ensemble_pk: int) -> None:
    """Refuse an ensemble that the account does not direct."""
    seen = Ensemble.objects.visible_to(account).filter(pk=ensemble_pk)
    if not (account.is_director and seen.exists()):
        raise NotAllowed("this ensemble is not yours")
