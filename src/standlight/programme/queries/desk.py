"""Everything one page of the Desk shows."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from django.utils.safestring import mark_safe

from standlight.criteria import CRITERIA
from standlight.errors import StandlightError
from standlight.programme import store
from standlight.programme.dates import date_words
from standlight.programme.models import (
    Account,
    CheckPassage,
    GivenLevel,
    OwnVersion,
    PlayingCheck,
    Remark,
    Report,
    Seat,
    Take,
    Turn,
)
from standlight.programme.notation import PHONE_MM, WIDE_MM, svg_of
from standlight.programme.queries.answer_values import AnswerDraft
from standlight.programme.queries.answers import answering
from standlight.programme.queries.checks import tuned_to
from standlight.programme.queries.desk_cautions import desk_cautions
from standlight.programme.queries.desk_questions import (
    DeskPanel,
    OfTake,
    desk_panel,
    heard_on,
)
from standlight.programme.queries.desk_queue import desk_take, foot
from standlight.programme.queries.desk_sitting import AGAIN, AtDesk, at_desk
from standlight.programme.queries.desk_values import (
    CriterionRow,
    DeskPage,
    DeskTake,
    LevelChoice,
    MeasureChoice,
    SaidRemark,
)
from standlight.programme.queries.guest_said import guests_said
from standlight.programme.queries.hearing import (
    notation_digest_of,
    own_version_of,
    passage_of,
    seat_in,
)
from standlight.programme.queries.lines import version_words
from standlight.programme.queries.measure_times import measure_times, written_times_of
from standlight.programme.queries.offers import facts_of, numbered, offered_for, offers_for
from standlight.programme.queries.passages import where_printed
from standlight.programme.queries.reading_marks import Readings, readings_of
from standlight.ratings import LEVEL_NAMES, NO_LEVEL_NAMES, NOT_SHOWN, level_name
from standlight.score import INSTRUMENTS, Passage, draw_readings, read_passage

LEVEL_KEYS = {
    **{str(level): str(level) for level in LEVEL_NAMES},
    "not_shown": "n",
    "not_heard": "h",
}
"""The key that gives each answer; shown small beside it."""


def desk_page(
    account: Account, turn: Turn, draft: AnswerDraft | None = None, at: AtDesk | None = None
) -> DeskPage:
    """The Desk for one turn, as ``account`` sees it; ``draft`` replaces what stands in the answer.

    ``at`` says on what terms the turn is heard (the sitting of its check). A take that is heard
    a second time is shown as if it had no levels yet.

    ``turn`` comes with its check, ensemble, piece and musician selected. Readings, the
    musician's own words and rating, and other raters' levels are there only once this
    rater's levels are whole (readings sooner by the rater's preference).
    """
    check = turn.check_row
    at = at or at_desk(account, turn)
    seat = seat_in(turn)
    passage = passage_of(turn)
    own = own_version_of(passage, turn.musician_id)
    notation = notation_digest_of(passage, own)
    takes = _takes(turn)
    take = next((row for row in takes if row.turn_id == turn.pk and row.chosen), None)
    take = take or next((row for row in reversed(takes) if row.turn_id == turn.pk), None)
    on_its_way = take is None and turn.takes.filter(state=Take.ARRIVING).exists()
    given = {} if at.slipped == AGAIN else _own_levels(account, turn)
    saved = set(check.criteria) <= set(given)
    rows = criterion_rows(at.criteria, seat, given, turn.self_levels if saved else {})
    show_readings = saved or account.readings_before_rating
    of = OfTake(check, seat, passage, own)
    readings = _readings(of, notation, take, turn) if show_readings else None
    music, narrow, no_music = music_with_readings(passage, notation, readings)
    facts = facts_of(turn, passage, seat)
    if at.sitting is not None and at.sitting.blind:
        # A name would undo the code; it is filled in when the answer is sent.
        facts = facts.without("name")
    name = at.name(turn)
    return DeskPage(
        check_pk=check.pk,
        turn_pk=turn.pk,
        title=check.title,
        piece=check.piece.title,
        ensemble=check.ensemble.name,
        singing=check.is_singing,
        musician=name,
        section=seat.section.name if seat else "no section",
        attempt=turn.attempt,
        way=turn.way,
        passage=_passage_words(passage, own),
        music=music,
        music_narrow=narrow,
        no_music=no_music,
        take=_with_measures(desk_take(take, "Take"), notation) if take else None,
        on_its_way=on_its_way,
        by_ear_only=not _can_be_read(take, notation, on_its_way) or not _any_read(check),
        together=check.together,
        tuned_to=tuned_to(check),
        earlier=tuple(_earlier(takes, take)),
        rows=rows,
        saved=saved,
        answered=turn.answered_at is not None and not at.slipped,
        readings=readings,
        words=turn.words if saved else "",
        own_rating=saved and bool(turn.self_levels),
        accommodation=turn.musician.agreed_labels,
        changed_goal=turn.musician.changed_goal,
        other_raters=_other_raters(account, turn) if saved else (),
        offers=offers_for(check, given, facts) if saved else {},
        offered_for=offered_for(check, given) if saved else "",
        answering=answering(turn, passage, seat, draft) if saved else None,
        measures=_measures(check, passage),
        remarks=_remarks(check, turn, name) if saved else (),
        foot=foot(account, turn, at, whole=saved),
        query=at.query,
        moves_on=at.moves_on,
        compared=_compared(takes, take, notation),
        panel=_panel(readings, take, notation, of, given if saved else {}),
        cautions=desk_cautions(turn, seat, saved=saved),
    )


def _takes(turn: Turn) -> list[Take]:
    """Every whole take of this musician for this check, in the order made. One query."""
    return list(
        Take.objects.filter(turn__check_row=turn.check_row_id, turn__musician=turn.musician_id)
        .exclude(state=Take.ARRIVING)
        .select_related("turn", "start_by_hand")
        .order_by("turn__attempt", "number", "started_at")
    )


def _earlier(takes: Iterable[Take], shown: Take | None) -> Iterable[DeskTake]:
    """The musician's other takes for this check, labelled by try, number and day."""
    for take in takes:
        if take is shown:
            continue
        yield desk_take(take, _label(take))


def _label(take: Take) -> str:
    """Which take it is: try, number and day."""
    return f"Try {take.turn.attempt}, take {take.number}, {date_words(take.started_at)}"


def _with_measures(take: DeskTake, notation: str) -> DeskTake:
    """The take with the seconds of its measures, by its latest report; without one as it is."""
    if not (notation and take.playable):
        return take
    body = (
        Report.objects.filter(take=take.key)
        .order_by("-made_at", "-pk")
        .values_list("body", flat=True)
        .first()
    )
    measures = measure_times(body, written_times_of(notation)) if body else ()
    return replace(take, measures=measures)


def _compared(takes: Sequence[Take], shown: Take | None, notation: str) -> DeskTake | None:
    """The take to hear ``shown`` against: what was sent the try before, else the latest other."""
    others = [take for take in takes if take is not shown and take.has_sound]
    if shown is None or not others:
        return None
    now = shown.turn.attempt
    chosen = max(others, key=lambda row: (row.turn.attempt < now, row.turn.attempt, row.chosen))
    return _with_measures(desk_take(chosen, _label(chosen)), notation)


def _own_levels(account: Account, turn: Turn) -> dict[str, str]:
    return dict(
        GivenLevel.objects.filter(turn=turn, rater=account, retired_at__isnull=True).values_list(
            "criterion", "value"
        )
    )


def _other_raters(account: Account, turn: Turn) -> tuple[str, ...]:
    """One line a colleague or a guest: who gave what."""
    said: dict[str, list[str]] = {}
    rows = (
        GivenLevel.objects.filter(turn=turn, retired_at__isnull=True)
        .exclude(rater=account)
        .order_by("rater__shown_name", "pk")
        .values_list("rater__shown_name", "criterion", "value")
    )
    for name, criterion, value in rows:
        said.setdefault(name, []).append(f"{CRITERIA[criterion].name} {level_name(value).lower()}")
    told = (f"{name}: {', '.join(words)}" for name, words in said.items())
    return (*told, *guests_said(turn))


def criterion_rows(
    criteria: Sequence[str], seat: Seat | None, given: Mapping[str, str], own: Mapping[str, int]
) -> tuple[CriterionRow, ...]:
    """The ``criteria`` in their order; one the instrument cannot show starts at not shown."""
    instrument = INSTRUMENTS.get(seat.section.instrument) if seat else None
    rows = []
    for key in criteria:
        criterion = CRITERIA[key]
        fits = instrument is None or criterion.applies_to(instrument.family)
        chosen = given.get(key, "" if fits else NOT_SHOWN)
        words = {**{str(level): name for level, name in LEVEL_NAMES.items()}, **NO_LEVEL_NAMES}
        choices = tuple(
            LevelChoice(
                value,
                word,
                LEVEL_KEYS[value],
                criterion.descriptors[int(value)] if value.isdigit() else "",
                value == chosen,
            )
            for value, word in words.items()
        )
        rows.append(
            CriterionRow(
                key,
                criterion.name,
                criterion.question,
                choices,
                given.get(key, ""),
                fits,
                LEVEL_NAMES.get(own.get(key, 0), ""),
                "" if criterion.has_readings else "by ear only",
            )
        )
    return tuple(rows)


def _can_be_read(take: Take | None, notation: str, on_its_way: bool) -> bool:
    """True when readings may come: there is notation, and a take that can be decoded."""
    if not notation:
        return False
    return on_its_way if take is None else take.has_sound


def _any_read(check: PlayingCheck) -> bool:
    """False for a group's check of which not one criterion is read together."""
    return not check.together or any(CRITERIA[key].read_together for key in check.criteria)


def _readings(of: OfTake, notation: str, take: Take | None, turn: Turn) -> Readings:
    """What was heard, or the sentence why nothing is shown; never a guess."""
    if take is None:
        live = "Heard live: there is no recording, so there are no readings."
        return Readings(silent=live if turn.way == Turn.LIVE else "No take came with this turn.")
    report = Report.objects.filter(take=take).order_by("-made_at", "-pk").first()
    if report is None:
        return Readings(silent="This take has not been read yet. Your levels are saved; go on.")
    found = readings_of(
        report.body, of.check.criteria, written_passage(notation), heard_on(of)
    )
    if take.state == Take.REFUSED:
        return Readings(found.verdicts, silent="This file could not be decoded: no readings.")
    if not notation:
        return Readings(
            found.verdicts,
            silent="This passage is on paper only, so there is nothing to read the take against. "
            "Rate it by ear.",
        )
    return found


def _panel(
    readings: Readings | None, take: Take | None, notation: str, of: OfTake, levels: dict[str, str]
) -> DeskPanel | None:
    """The panel beside the music, once readings are shown."""
    if readings is None:
        return None
    return desk_panel(readings, take, written_passage(notation), of, levels)


def written_passage(notation: str) -> Passage | None:
    """The passage as written; none on paper only or when the file is gone (that is said)."""
    if not notation:
        return None
    try:
        return read_passage(store.fetch(notation))
    except StandlightError:
        return None


MOVED = "The passage has changed since this take was read."
"""Said in the place of marks, which have no place in other notes."""


def music_with_readings(
    passage: CheckPassage | None, notation: str, readings: Readings | None
) -> tuple[str, str, str]:
    """The passage wide and narrow with the readings drawn in, or a sentence in their place."""
    if passage is None:
        return "", "", "No passage is set for this musician's part."
    if not notation:
        return "", "", "On paper only: look at the printed part."
    drawn = [svg_of(notation, width_mm=width) for width in (WIDE_MM, PHONE_MM)]
    if not all(picture.startswith("<svg") for picture in drawn):
        return "", "", "This music could not be drawn. Use the printed part."
    if readings and readings.moved:
        return drawn[0], drawn[1], MOVED
    if readings and readings.marks:
        try:
            drawn = [mark_safe(draw_readings(picture, readings.marks)) for picture in drawn]
        except ValueError:
            return drawn[0], drawn[1], MOVED
    return drawn[0], drawn[1], ""


def _passage_words(passage: CheckPassage | None, own: OwnVersion | None) -> str:
    """Where it is printed, whose part, and what is this musician's own in it.

    >>> _passage_words(None, None)
    ''
    """
    if passage is None:
        return ""
    version = version_words(own)
    moved = f"{version} for this musician" if version else ""
    part = passage.part.name if passage.part else ""
    return ", ".join(filter(None, (where_printed(passage), part, moved)))


def bank_place(account: Account, turn: Turn) -> tuple[str, int] | None:
    """Criterion and level that a next step kept from this turn belongs to: the lowest given."""
    levels = numbered(turn.check_row, _own_levels(account, turn))
    return min(levels, key=lambda row: row[1]) if levels else None


def _measures(check: PlayingCheck, passage: CheckPassage | None) -> tuple[MeasureChoice, ...]:
    """The measures of the passage as printed; none on paper only."""
    if passage is None or passage.first_measure is None or passage.last_measure is None:
        return ()
    return tuple(
        MeasureChoice(row["index"], str(row["printed"]))
        for row in check.piece.measures
        if passage.first_measure <= row["index"] <= passage.last_measure
    )


def printed_range(measures: Sequence[Mapping[str, object]], first: int, last: int) -> str:
    """Printed numbers of 0-based measures ``first`` to ``last``.

    >>> printed_range([{"index": 0, "printed": "33"}, {"index": 1, "printed": "34"}], 0, 1)
    'measures 33 to 34'
    """
    printed = {row["index"]: str(row["printed"]) for row in measures}
    start, end = printed.get(first, str(first + 1)), printed.get(last, str(last + 1))
    return f"measure {start}" if first == last else f"measures {start} to {end}"


def _remarks(check: PlayingCheck, turn: Turn, name: str) -> tuple[SaidRemark, ...]:
    """What was said of measures; the musician's own under the ``name`` that the page gives them."""
    rows = Remark.objects.filter(turn=turn).select_related("author").order_by("made_at")
    return tuple(
        SaidRemark(
            name if row.author_id == turn.musician.account_id else row.author.shown_name,
            printed_range(check.piece.measures, row.first_measure, row.last_measure),
            row.words,
        )
        for row in rows
    )
