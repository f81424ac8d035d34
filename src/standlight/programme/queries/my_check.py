"""One check as its musician sees it: the music, how to start, what is listened for, the takes."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from django.utils import timezone

from standlight.criteria import CRITERIA
from standlight.programme import store
from standlight.programme.accommodations import LARGE_PRINT, SHORTER
from standlight.programme.models import (
    Account,
    CheckPassage,
    Musician,
    PlayingCheck,
    Seat,
    Take,
    Turn,
)
from standlight.programme.queries.checks import tuned_to
from standlight.programme.queries.first_sound import (
    CountIn,
    StartingSound,
    count_in,
    starting_sound,
)
from standlight.programme.queries.hearing import (
    notation_digest_of,
    own_version_of,
    passage_of,
    seat_in,
)
from standlight.programme.queries.lines import your_line
from standlight.programme.queries.my_part import (
    LEVEL_WORDS,
    WAY_SENTENCES,
    due_words,
    musician_of,
    open_attempt,
    passage_words,
    state_of,
)
from standlight.programme.queries.own_start import printed_start
from standlight.score import INSTRUMENTS, Passage, read_passage
from standlight.score.remembering import has_engraving
from standlight.score.shifting import shift_words


@dataclass(frozen=True, slots=True)
class Listened:
    """One criterion of the check: its question, and each level with what it sounds like."""

    key: str
    name: str
    question: str
    levels: tuple[tuple[int, str, str], ...]


@dataclass(frozen=True, slots=True)
class KeptTake:
    """A take that is kept for this turn; ``playable`` once its sound is here."""

    key: str
    number: int
    seconds: float | None
    playable: bool
    came_as_file: bool
    problem: str


@dataclass(frozen=True, slots=True)
class CheckPage:
    """All that the page of one check shows. ``attempt`` is ``None`` when nothing can be sent.

    ``own_version`` says how the passage is moved for this musician ("an octave lower"), empty
    when it is as cut; ``shorter`` which measures of it are enough ("33 to 36"), empty for all of
    it; ``line`` which line of a divided passage is theirs ("the lower line");
    ``start_at`` the printed measure they start at where each has a start of their own;
    ``tuned_to`` what intonation is read against where it is not equal temperament, and
    ``needs_drone`` is true where the musician has to let one sound.
    """

    pk: int
    owner: str
    kind: str
    is_singing: bool
    title: str
    piece: str
    where: str
    part: str
    due: str
    note: str
    state: str
    attempt: int | None
    records: bool
    way_sentence: str
    accommodation: str
    changed_goal: str
    own_version: str
    shorter: str
    start_at: str
    line: str
    has_notation: bool
    large_print: bool
    count_in: CountIn
    starting_sound: StartingSound | None
    listened: tuple[Listened, ...]
    asks_self_rating: bool
    together: bool
    tuned_to: str
    needs_drone: bool
    measures: tuple[tuple[int, str], ...]
    takes: tuple[KeptTake, ...]
    takes_kept: int
    sent_take: str | None
    sent_at: datetime.datetime | None
    answered_turn: int | None
    safety_contact: str


def check_page(
    account: Account, check: PlayingCheck, today: datetime.date | None = None
) -> CheckPage:
    """The page of ``check`` for the musician ``account``."""
    today = today or timezone.localdate()
    musician = musician_of(account)
    attempt = open_attempt(musician, check)
    turns = list(check.turns.filter(musician=musician).order_by("attempt"))
    last = next((turn for turn in reversed(turns) if turn.sent_at or turn.excused), None)
    draft = next((turn for turn in turns if turn.attempt == attempt), None)
    asked = Turn(check_row=check, musician=musician)
    passage, seat = passage_of(asked), seat_in(asked)
    own = own_version_of(passage, musician.pk)
    notation, music = _music(notation_digest_of(passage, own))
    instrument = _instrument(passage, seat)
    records = musician.way == Musician.RECORD
    sent = last.takes.filter(chosen=True).first() if last is not None else None
    return CheckPage(
        pk=check.pk,
        owner=f"{musician.pk}-{check.pk}-{attempt}",
        kind="singing check" if check.is_singing else "playing check",
        is_singing=check.is_singing,
        title=check.title,
        piece=check.piece.title,
        where=passage_words(check, passage),
        part=passage.part.name if passage and passage.part else "",
        due=due_words(check.due_on + datetime.timedelta(days=musician.extra_days), today),
        note=check.note,
        state=state_of(last),
        attempt=attempt if records else None,
        records=records,
        way_sentence=WAY_SENTENCES[musician.way],
        accommodation=musician.agreed_words,
        changed_goal=musician.changed_goal,
        own_version=shift_words(own.semitones) if own is not None and own.semitones else "",
        shorter=_enough(check, passage, music, musician),
        start_at=printed_start(own, music),
        line=your_line(notation, own),
        has_notation=bool(notation) and has_engraving(notation),
        large_print=LARGE_PRINT in musician.accommodations,
        count_in=count_in(music.measures if music else (), check.tempo_qpm),
        starting_sound=starting_sound(music, notation, instrument, check.ensemble.a4_hz)
        if music
        else None,
        listened=_listened(check, instrument),
        asks_self_rating=check.asks_self_rating,
        together=check.together,
        tuned_to=tuned_to(check),
        needs_drone=bool(tuned_to(check)) and check.pitch_target == PlayingCheck.DRONE,
        measures=_measures(check, passage),
        takes=_takes(draft),
        takes_kept=PlayingCheck.TAKES_KEPT,
        sent_take=str(sent.key) if sent is not None and sent.has_sound else None,
        sent_at=last.sent_at if last is not None else None,
        answered_turn=last.pk if last is not None and last.answered_at else None,
        safety_contact=musician.programme.safety_contact,
    )


def notation_of(account: Account, check: PlayingCheck) -> str:
    """The digest of what the musician has before them, empty when there is no notation."""
    musician = musician_of(account)
    passage = passage_of(Turn(check_row=check, musician=musician))
    return notation_digest_of(passage, own_version_of(passage, musician.pk))


def _enough(
    check: PlayingCheck, passage: CheckPassage | None, music: Passage | None, musician: Musician
) -> str:
    """Printed measures that are enough for the musician, where a shorter passage is agreed."""
    if SHORTER not in musician.accommodations or passage is None or music is None:
        return ""
    measures = _measures(check, passage)[: len(music.measures)]
    if not measures:
        return ""
    first, last = measures[0][1], measures[-1][1]
    return first if first == last else f"{first} to {last}"


def _music(notation_digest: str) -> tuple[bytes, Passage | None]:
    """The kept notation and what it asks, both empty on paper only."""
    if not notation_digest:
        return b"", None
    notation = store.fetch(notation_digest)
    return notation, read_passage(notation)


def _instrument(passage: CheckPassage | None, seat: Seat | None) -> str:
    """A name of the instruments table: the part's, else the section's, else empty."""
    if passage is not None and passage.part is not None and passage.part.instrument:
        return passage.part.instrument
    return seat.section.instrument if seat is not None else ""


def _listened(check: PlayingCheck, instrument: str) -> tuple[Listened, ...]:
    """The criteria of the check that this instrument can show, with their levels in words."""
    row = INSTRUMENTS.get(instrument)
    asked = [CRITERIA[key] for key in check.criteria if key in CRITERIA]
    return tuple(
        Listened(
            criterion.key,
            criterion.name,
            criterion.question,
            tuple(
                (level, LEVEL_WORDS[str(level)], words)
                for level, words in sorted(criterion.descriptors.items())
            ),
        )
        for criterion in asked
        if row is None or criterion.applies_to(row.family)
    )


def _measures(check: PlayingCheck, passage: CheckPassage | None) -> tuple[tuple[int, str], ...]:
    """Index and printed number of each measure of the passage, to pin a spot on."""
    if passage is None or passage.first_measure is None or passage.last_measure is None:
        return ()
    return tuple(
        (row["index"], str(row["printed"]))
        for row in check.piece.measures
        if passage.first_measure <= row["index"] <= passage.last_measure
    )


def _takes(draft: Turn | None) -> tuple[KeptTake, ...]:
    """The takes kept for the turn that is open; those still arriving are left to the device."""
    if draft is None or draft.sent_at is not None:
        return ()
    rows = draft.takes.exclude(state=Take.ARRIVING).prefetch_related("reports")
    return tuple(
        KeptTake(
            key=str(take.key),
            number=take.number,
            seconds=take.seconds,
            playable=take.has_sound,
            came_as_file=take.settings.get("way") == "file",
            problem=_problem(take),
        )
        for take in rows
    )


def _problem(take: Take) -> str:
    """Why a take could not be decoded, as the hearing said it; empty when it could."""
    if take.has_sound:
        return ""
    for report in take.reports.all():
        for verdict in report.body.get("verdicts", ()):
            return verdict["sentence"]
    return "This file could not be played. Send another, or ask your director."
