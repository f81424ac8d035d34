"""Anchor takes and calibrations as their pages show them; nearness in words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import Case, Count, Exists, IntegerField, OuterRef, Value, When
from django.utils import timezone

from standlight.criteria import CRITERIA
from standlight.programme.dates import date_words
from standlight.programme.models import (
    Account,
    AnchorTake,
    Calibration,
    GivenLevel,
    PlayingCheck,
    Take,
    Turn,
)
from standlight.programme.queries.blind_takes import BlindTake, blind_take
from standlight.programme.queries.guests import may_be_given, with_sound
from standlight.ratings.levels import LEVEL_NAMES, level_name
from standlight.ratings.nearness import FEWEST_TO_LEAN, Nearness, nearness

MINUTES_A_TAKE = 1.5
"""Two hearings of 20 seconds, three levels and a moment to think; our choice."""

CHECKS_SHOWN = 12
"""The latest checks are what one calibrates for; our choice."""

Json = dict[str, Any]


@dataclass(frozen=True, slots=True)
class AnchorLine:
    """A take of a check: an anchor with its levels, or one that could be made one.

    What was agreed is empty while the reader's own levels are not whole: their ear is still to be
    tuned, or to rate the take.
    """

    turn_pk: int
    musician: str
    section: str
    rated: bool
    levels: str
    reason: str


@dataclass(frozen=True, slots=True)
class AnchorsPage:
    """The anchor takes of a check, and its other takes."""

    check_pk: int
    title: str
    ensemble: str
    anchors: tuple[AnchorLine, ...]
    others: tuple[AnchorLine, ...]


@dataclass(frozen=True, slots=True)
class AnchorPage:
    """One take, to agree on its levels; ``said`` is what each director gave."""

    check_pk: int
    turn_pk: int
    title: str
    musician: str
    rated: bool
    is_anchor: bool
    said: tuple[str, ...]
    reason: str
    heard: BlindTake


@dataclass(frozen=True, slots=True)
class CalibrationBegin:
    """Before a calibration: how many anchor takes there are, how long it takes, the last ones."""

    check_pk: int
    title: str
    ensemble: str
    n_takes: int
    minutes: int
    going: bool
    earlier: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CalibrationHears:
    """One anchor take, heard blind."""

    place: int
    of: int
    heard: BlindTake


@dataclass(frozen=True, slots=True)
class Compared:
    """One criterion of one anchor take: what was given, what was agreed."""

    criterion: str
    given: str
    agreed: str
    same: bool


@dataclass(frozen=True, slots=True)
class CalibrationTold:
    """One anchor take afterwards: levels side by side and the reason of the agreed ones."""

    place: int
    piece: str
    sound: str
    reason: str
    rows: tuple[Compared, ...]


@dataclass(frozen=True, slots=True)
class CalibrationPage:
    """How near one was: sentences, how they are known, and take by take."""

    check_pk: int
    title: str
    sentences: tuple[str, ...]
    why: tuple[str, ...]
    takes: tuple[CalibrationTold, ...]


@dataclass(frozen=True, slots=True)
class AnchoredCheck:
    """A check with takes that can be heard, and how many of them are anchors."""

    pk: int
    title: str
    ensemble: str
    n_anchors: int


@dataclass(frozen=True, slots=True)
class EarsPart:
    """The part of the Raters page that leads to other ears: the last calibration, the checks."""

    line: str
    checks: tuple[AnchoredCheck, ...]


def own_levels_whole(account: Account, turn: Turn) -> bool:
    """True when ``account`` has given every level that the turn's check asks for. One query."""
    held = GivenLevel.objects.filter(turn=turn, rater=account, retired_at__isnull=True)
    return set(turn.check_row.criteria) <= set(held.values_list("criterion", flat=True))


def anchors_for(account: Account, check: PlayingCheck) -> list[AnchorTake]:
    """Anchor takes with sound to calibrate on for ``check``.

    Its own first, then those of the same group, the newest agreed first.
    """
    own_first = Case(
        When(turn__check_row=check.pk, then=Value(0)),
        default=Value(1),
        output_field=IntegerField(),
    )
    sounding = Take.objects.filter(chosen=True).exclude(
        state__in=(Take.ARRIVING, *Take.SOUNDLESS)
    )
    return list(
        AnchorTake.objects.visible_to(account)
        .filter(
            turn__check_row__ensemble=check.ensemble_id, turn__takes__in=sounding.values("pk")
        )
        .select_related("turn__check_row")
        .order_by(own_first, "-agreed_at", "-pk")
    )


def anchors_page(account: Account, check: PlayingCheck) -> AnchorsPage:
    """The takes of a check with sound: which are anchors, which could be."""
    turns = list(may_be_given(account, check).select_related("section"))
    anchors = {row.turn_id: row for row in AnchorTake.objects.filter(turn__in=turns)}
    held: dict[int, set[str]] = {}
    for turn, criterion in GivenLevel.objects.filter(
        turn__in=turns, rater=account, retired_at__isnull=True
    ).values_list("turn_id", "criterion"):
        held.setdefault(turn, set()).add(criterion)
    asked = set(check.criteria)
    lines = [_anchor_line(turn, anchors, asked <= held.get(turn.pk, set())) for turn in turns]
    return AnchorsPage(
        check.pk,
        check.title,
        check.ensemble.name,
        tuple(line for line in lines if line.turn_pk in anchors),
        tuple(line for line in lines if line.turn_pk not in anchors),
    )


def anchor_page(account: Account, turn: Turn, typed: Mapping[str, str]) -> AnchorPage:
    """One take to agree on; others' levels are there once the reader's own are whole."""
    anchor = AnchorTake.objects.filter(turn=turn).first()
    rated = own_levels_whole(account, turn)
    own = GivenLevel.objects.filter(turn=turn, rater=account, retired_at__isnull=True)
    chosen = dict(own.values_list("criterion", "value")) if anchor is None else anchor.levels
    criteria = turn.check_row.criteria
    levels = {**chosen, **{key: typed[key] for key in criteria if key in typed}}
    return AnchorPage(
        check_pk=turn.check_row_id,
        turn_pk=turn.pk,
        title=turn.check_row.title,
        musician=turn.musician.name,
        rated=rated,
        is_anchor=anchor is not None,
        said=_said(turn) if rated else (),
        reason=typed.get("reason", anchor.reason if anchor is not None else ""),
        heard=blind_take(turn, criteria, levels),
    )


def calibration_begin(account: Account, check: PlayingCheck, most: int) -> CalibrationBegin:
    """The page before a calibration."""
    n_takes = min(len(anchors_for(account, check)), most)
    done = Calibration.objects.filter(account=account, done_at__isnull=False)
    going = Calibration.objects.filter(account=account, check_row=check, done_at__isnull=True)
    return CalibrationBegin(
        check.pk,
        check.title,
        check.ensemble.name,
        n_takes,
        max(1, round(MINUTES_A_TAKE * n_takes)),
        any(take["given"] for row in going[:1] for take in row.takes),
        tuple(short_line(row) for row in done.order_by("-done_at")[:5]),
    )


def calibration_hears(
    calibration: Calibration, place: int, turn: Turn, typed: Mapping[str, str]
) -> CalibrationHears:
    """One anchor take of a calibration as it is heard: no name, no level, no reason."""
    agreed = calibration.takes[place - 1]["agreed"]
    criteria = [key for key in turn.check_row.criteria if key in agreed]
    heard = blind_take(turn, criteria, {key: typed[key] for key in criteria if key in typed})
    return CalibrationHears(place, len(calibration.takes), heard)


def next_place(calibration: Calibration) -> int | None:
    """The first take without levels, from 1; ``None`` at the end."""
    places = enumerate(calibration.takes, start=1)
    return next((place for place, take in places if not take["given"]), None)


def calibration_page(calibration: Calibration) -> CalibrationPage:
    """How near a calibration came, in words, then take by take. Few queries."""
    turns = Turn.objects.select_related("check_row__piece").prefetch_related("takes", "anchor")
    by_pk = turns.in_bulk([take["turn"] for take in calibration.takes])
    found = nearness_of(calibration)
    return CalibrationPage(
        calibration.check_row_id,
        calibration.check_row.title,
        (*sentences_of(found), *_may_have_known(calibration, by_pk)),
        why_of(found),
        tuple(
            _told(place, take, by_pk.get(take["turn"]))
            for place, take in enumerate(calibration.takes, start=1)
        ),
    )


def _may_have_known(calibration: Calibration, turns: Mapping[int, Turn]) -> tuple[str, ...]:
    """A sentence where the rater agreed on some of the takes themself."""
    own = sum(
        hasattr(turn, "anchor") and turn.anchor.agreed_by_id == calibration.account_id
        for turn in turns.values()
    )
    if not own:
        return ()
    return (f"You wrote down what was agreed for {own} of them, so you may have known them.",)


def ears_part(account: Account) -> EarsPart:
    """What the Raters page says of the last calibration, and the latest checks. Two queries."""
    last = Calibration.objects.filter(account=account, done_at__isnull=False)
    row = last.order_by("-done_at").first()
    heard = Turn.objects.filter(with_sound(), check_row=OuterRef("pk"), sent_at__isnull=False)
    checks = PlayingCheck.objects.visible_to(account).select_related("ensemble")
    checks = checks.filter(Exists(heard)).annotate(n_anchors=Count("turns__anchor"))
    return EarsPart(
        "" if row is None else short_line(row),
        tuple(
            AnchoredCheck(check.pk, check.title, check.ensemble.name, check.n_anchors)
            for check in checks[:CHECKS_SHOWN]
        ),
    )


def nearness_of(calibration: Calibration) -> Nearness:
    """The figures of a calibration: levels against levels; not shown and not heard are none."""
    return nearness(
        [
            [
                (int(take["given"][key]), int(agreed))
                for key, agreed in take["agreed"].items()
                if take["given"].get(key, "").isdigit()
            ]
            for take in calibration.takes
        ]
    )


def short_line(calibration: Calibration) -> str:
    """A calibration in one line."""
    today = timezone.localdate()
    day = date_words(calibration.done_at or calibration.begun_at, seen_from=today)
    found = nearness_of(calibration)
    if not found.n:
        return f"Calibration of {day}: no level was given that could be compared."
    return (
        f"Calibration of {day}: {found.n_same} of {found.n} levels as agreed, "
        f"{found.n_within_one} at most one apart; "
        f"{LEAN_WORDS[found.leans] if found.can_lean else TOO_FEW_WORDS}."
    )


LEAN_WORDS: Mapping[int, str] = {
    -1: "stricter than agreed, more than chance would",
    0: "no lean beyond chance",
    1: "milder than agreed, more than chance would",
}
"""Which way an ear leans to the words of one line."""

TOO_FEW_WORDS = "too few takes to say whether you lean"


def sentences_of(found: Nearness) -> tuple[str, ...]:
    """How near, in words.

    >>> sentences_of(nearness([[(3, 3), (2, 3)]]))[0]
    '1 of 2 levels came out as agreed, 2 of 2 at most one apart.'
    """
    if not found.n:
        return ("No level was given that could be compared.",)
    first = (
        f"{found.n_same} of {found.n} levels came out as agreed, {found.n_within_one} of "
        f"{found.n} at most one apart."
    )
    missed = f"{found.n_lower} lower and {found.n_higher} higher than agreed."
    too_few = f"Too few takes to say whether you lean: it takes {FEWEST_TO_LEAN}."
    return (first, missed, LEAN_SENTENCES[found.leans] if found.can_lean else too_few)


LEAN_SENTENCES: Mapping[int, str] = {
    -1: "Take by take you are stricter than what was agreed, more than chance would make you.",
    0: "Take by take you lean neither way beyond chance.",
    1: "Take by take you are milder than what was agreed, more than chance would make you.",
}
"""Which way an ear leans, as a sentence."""


def why_of(found: Nearness) -> tuple[str, ...]:
    """The figures behind the words, with their intervals or the reason why there are none."""
    lines = [
        "A take counts once for the lean, all its criteria together: one impression may stand for "
        "all of them. Fewer than six takes can show none."
    ]
    if found.same.estimate is not None and found.same.low is not None:
        lines.append(
            f"Same levels: {_percent(found.same.estimate)}, likely between "
            f"{_percent(found.same.low)} and {_percent(found.same.high)}."
        )
    kappa = found.kappa
    if kappa.estimate is None:
        lines.append(f"Nearness beyond chance: none. {kappa.because}")
    elif kappa.low is None or kappa.high is None:
        lines.append(
            f"Nearness beyond chance (1 is all alike, 0 is chance): {kappa.estimate:.2f}. "
            f"{kappa.because}"
        )
    else:
        lines.append(
            f"Nearness beyond chance (1 is all alike, 0 is chance): {kappa.estimate:.2f}, likely "
            f"between {kappa.low:.2f} and {kappa.high:.2f}; levels of one take lean on each other, "
            "so it is a little less sure than that."
        )
    return tuple(lines)


def _percent(share: float | None) -> str:
    """A share in words."""
    return f"{(share or 0.0) * 100:.0f} in 100"


def _anchor_line(turn: Turn, anchors: Mapping[int, AnchorTake], rated: bool) -> AnchorLine:
    """One take of a check."""
    anchor = anchors.get(turn.pk)
    return AnchorLine(
        turn.pk,
        turn.musician.name,
        turn.section.name if turn.section is not None else "",
        rated,
        _levels_words(anchor.levels) if anchor is not None and rated else "",
        anchor.reason if anchor is not None and rated else "",
    )


def _levels_words(levels: Mapping[str, str]) -> str:
    """Criterion and level, one after the other."""
    return ", ".join(
        f"{CRITERIA[key].name} {level_name(value).lower()}" for key, value in levels.items()
    )


def _said(turn: Turn) -> tuple[str, ...]:
    """What each director gave this take."""
    said: dict[str, dict[str, str]] = {}
    rows = GivenLevel.objects.filter(turn=turn, retired_at__isnull=True)
    for name, criterion, value in rows.order_by("rater__shown_name", "pk").values_list(
        "rater__shown_name", "criterion", "value"
    ):
        said.setdefault(name, {})[criterion] = value
    return tuple(f"{name}: {_levels_words(levels)}" for name, levels in said.items())


def _told(place: int, take: Json, turn: Turn | None) -> CalibrationTold:
    """One anchor take afterwards; the turn may be gone since."""
    sound, piece, reason = "", "a take that is gone", ""
    if turn is not None:
        piece = turn.check_row.piece.title
        playable = [one for one in turn.takes.all() if one.chosen and one.has_sound]
        sound = str(playable[0].key) if playable else ""
        reason = turn.anchor.reason if hasattr(turn, "anchor") else ""
    return CalibrationTold(place, piece, sound, reason, _compared(take))


def _compared(take: Json) -> tuple[Compared, ...]:
    """Given and agreed, criterion by criterion."""
    return tuple(
        Compared(
            CRITERIA[key].name,
            level_name(take["given"].get(key, "not_heard")),
            LEVEL_NAMES[int(agreed)],
            take["given"].get(key) == agreed,
        )
        for key, agreed in take["agreed"].items()
    )

