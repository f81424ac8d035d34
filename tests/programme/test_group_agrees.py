"""The group's picture beside each take's own page: real reports of made takes, counted alike."""

from dataclasses import dataclass

import numpy as np
import pytest
from django.utils import timezone

from standlight.listening import Terms, hear, report_as_json
from standlight.programme import store
from standlight.programme.models import (
    Casting,
    CheckPassage,
    Part,
    Piece,
    PlayingCheck,
    Report,
    Seat,
    Turn,
)
from standlight.programme.pitch_targets import target_of
from standlight.programme.queries.desk_questions import OfTake, heard_on
from standlight.programme.queries.group_picture import GroupPage, group_page
from standlight.programme.queries.heard_take import heard_take
from standlight.programme.queries.reading_marks import Readings, readings_of
from standlight.programme.queries.rehearse_outline import outlines_of
from standlight.programme.queries.rehearse_voices import voices_of
from standlight.score import SAID, Passage, line_to_musicxml, read_passage
from tests.cast import add_musician
from tests.programme.desk_scene import send
from tests.sound.takes import RATE_HZ, finished, tone

pytestmark = pytest.mark.django_db

QUARTER_S = 0.625
"""At 96 quarters a minute."""

LEAD = "C5 q D5 q E5 q F5 q | G5 h E5 h"
ONCE = "A5 q G5 q F5 q E5 q | D5 q F5 q A5 q G5 q | E5 h C5 h"
AFTER = "F5 q D5 q E5 q G5 q | A5 h D5 h | C5 w"
PLAIN = f"{LEAD} | {ONCE} | {AFTER}"
"""Eight measures of 25 notes."""

ALL = ("intonation", "rhythm", "notes", "pulse")


def written(line: str, instrument: str = "Flute") -> bytes:
    return line_to_musicxml(f"time 4/4\nkey C\ntempo 96\n{line}", instrument=instrument)


def played(passage: Passage, timbre: str, *, cents=None, stops=(), back=None):
    """The passage at 96; ``cents`` a note; 1.5 s of silence before each note of ``stops``.

    ``back`` (stop, start): before note ``stop`` the player waits and begins again at ``start``.
    """
    rng = np.random.default_rng(11)
    order = list(range(len(passage.notes)))
    if back is not None:
        order = [*range(back[0]), *range(back[1], len(passage.notes))]
    clock, sounds = 0.6, []
    for place, index in enumerate(order):
        note = passage.notes[index]
        clock += 1.5 * (index in stops or (back is not None and place == back[0]))
        off = cents[index] if cents is not None else 0.0
        seconds = float(note.duration_quarters) * QUARTER_S
        sounds.append((clock, tone(note.midi + off / 100.0, 0.92 * seconds, timbre, rng)))
        clock += seconds
    wave = np.zeros(int((clock + 1.5) * RATE_HZ))
    for onset_s, sound in sounds:
        first = int(onset_s * RATE_HZ)
        wave[first : first + len(sound)] += sound
    return finished(wave, rng, 35.0, 0.3)


@dataclass
class Group:
    """Three musicians of a section who all sent the same take, and what its own page says."""

    check: PlayingCheck
    turn: Turn
    page: GroupPage
    own: Readings
    passage: Passage

    def counted(self, name: str) -> set[str]:
        """The printed measures that the picture counts all three takes in; the others in none."""
        (section,) = self.page.sections
        line = next(one for one in section.lines if one.name == name)
        assert {cell.troubled for cell in line.cells} <= {0, 3}
        assert line.anywhere.startswith("3 of 3" if any(
            cell.troubled for cell in line.cells) else "0 of 3")  # fmt: skip
        cells = zip(section.measures, line.cells, strict=True)
        return {printed for printed, cell in cells if cell.troubled}

    def marked(self, wanted) -> set[str]:
        """The printed measures of the marks on the take's own page that are ``wanted``."""
        notes, measures = self.passage.notes, self.passage.measures
        return {
            measures[notes[mark.index].measure].printed for mark in self.own.marks if wanted(mark)
        }


def group(cast, line, take, *, section, criteria=ALL, kind="equal", tonic="") -> Group:
    """A check on ``line`` for a section, and the report of ``take`` for three of its musicians."""
    notation = written(line, section.instrument)
    piece = Piece.objects.create(
        ensemble=section.ensemble, title="Lamp Tune", score_digest="0" * 64,
        measures=[
            {"index": n, "printed": str(n + 1), "movement": 0, "rehearsal": None, "beats": 4,
             "beat_unit": 4}
            for n in range(line.count("|") + 1)
        ],
    )  # fmt: skip
    part = Part.objects.create(
        piece=piece, index=0, name=section.name, instrument=section.instrument
    )
    check = PlayingCheck.objects.create(
        ensemble=section.ensemble, piece=piece, title="Check", criteria=list(criteria),
        tempo_qpm=96, due_on=timezone.localdate(), made_by=cast.director,
        published_at=timezone.now(), pitch_target=kind, tonic=tonic,
    )  # fmt: skip
    passage = CheckPassage.objects.create(
        check_row=check, part=part, first_measure=0, last_measure=line.count("|"),
        printed="all", notation_digest=store.keep(notation),
    )  # fmt: skip
    music = read_passage(notation)
    terms = Terms(
        96.0, section.instrument, criteria=tuple(criteria), target=target_of(kind, tonic)
    )
    body = report_as_json(hear(take, music, terms))
    scene = type("Scene", (), {"check": check})
    for n in range(3):
        person = add_musician(cast.programme, section, f"7{n:03}", "Player", f"Number {n}")
        Casting.objects.create(seat=Seat.objects.get(musician=person), piece=piece, part=part)
        turn = send(scene, person, answered_at=timezone.now())
        Report.objects.create(take=turn.takes.get(), method=body["method"], body=body)
    of = OfTake(check, Seat.objects.get(musician=person), passage, None)
    own = readings_of(body, check.criteria, music, heard_on(of))
    return Group(check, turn, group_page(cast.director, check), own, music)


def said_off(mark):
    return mark.cents is not None and mark.cents_as == SAID


def said_late(mark):
    return mark.ms is not None and mark.ms_as == SAID


def otherwise(mark):
    return mark.outcome != "played" or mark.longer


def assert_agrees(found: Group) -> None:
    """The picture counts the very measures that the marks of the take's own page call out."""
    for name, wanted in (("Intonation", said_off), ("Rhythm", said_late), ("Notes", otherwise)):
        assert found.counted(name) == found.marked(wanted), name


def flutes(cast):
    return cast.band.sections.create(name="Flute", instrument="Flute", order=0)


def notes_of(line, instrument="Flute"):
    return read_passage(written(line, instrument))


def test_a_voice_that_drifts_is_counted_from_its_moving_centre_as_on_its_own_page(cast):
    music = notes_of(PLAIN, "Soprano")
    down = list(np.linspace(45.0, -45.0, len(music.notes)))
    take = played(music, "voice", cents=down)
    sung = group(cast, PLAIN, take, section=cast.sopranos)
    assert sung.own.tuning.endswith("it drifts, and marks follow the voice.")
    assert sung.counted("Intonation") == set()
    assert_agrees(sung)
    outlines = outlines_of([sung.check.piece])
    heard = voices_of(sung.check.ensemble, outlines)[sung.check.piece_id].takes
    assert len(heard) == 3
    assert not any(key == "intonation" for take in heard for key, _ in take.troubles)


def test_a_player_who_drifts_as_far_is_counted_at_both_ends(cast):
    music = notes_of(PLAIN)
    down = list(np.linspace(45.0, -45.0, len(music.notes)))
    found = group(cast, PLAIN, played(music, "flute", cents=down), section=flutes(cast))
    assert {"1", "8"} <= found.counted("Intonation")
    assert_agrees(found)


def test_just_thirds_are_counted_from_just_intervals_as_on_the_page(cast):
    music = notes_of(PLAIN)
    # a third 18 cents above equal is 32 above 5:4 (386.3 cents); alone it is under 25 of equal
    wide = [18.0 if note.midi % 12 == 4 else 0.0 for note in music.notes]
    found = group(
        cast, PLAIN, played(music, "flute", cents=wide), section=flutes(cast), kind="just",
        tonic="C",
    )  # fmt: skip
    thirds = {music.measures[note.measure].printed for note in music.notes if note.midi % 12 == 4}
    assert found.counted("Intonation") == thirds
    assert_agrees(found)
    assert "its just interval" in dict(found.page.counts)["Intonation"]


def test_against_a_drone_the_takes_own_height_counts_as_on_the_page(cast):
    music = notes_of(PLAIN)
    low = [-45.0] * len(music.notes)
    found = group(
        cast, PLAIN, played(music, "flute", cents=low), section=flutes(cast), kind="drone",
        tonic="C",
    )  # fmt: skip
    assert len(found.counted("Intonation")) == 8
    assert_agrees(found)
    assert "the drone" in dict(found.page.counts)["Intonation"]


def test_the_notes_of_a_repeat_that_was_left_out_are_counted_nowhere(cast):
    twice = f"{LEAD} | {ONCE} | {ONCE} | {AFTER}"
    found = group(cast, twice, played(notes_of(PLAIN), "flute"), section=flutes(cast))
    assert any("are not counted as missing" in one for one in found.own.verdicts)
    assert found.counted("Notes") == found.counted("Steady pulse") == set()
    assert not found.own.otherwise
    assert_agrees(found)
    shown = heard_take(found.turn, found.turn.takes.get())
    assert shown.places == ("No place stands out in this recording.",)


def test_a_repeat_that_the_passage_does_not_have_is_no_stop(cast):
    twice = f"{LEAD} | {ONCE} | {ONCE} | {AFTER}"
    found = group(cast, PLAIN, played(notes_of(twice), "flute"), section=flutes(cast))
    assert any("played twice without a stop" in one for one in found.own.verdicts)
    assert found.counted("Steady pulse") == set()
    assert_agrees(found)


@pytest.mark.parametrize(
    ("how", "measure"),
    [({"stops": (10,)}, "4"), ({"back": (12, 6)}, "3")],
    ids=["a wait", "a start again"],
)
def test_a_stop_has_a_place_on_the_page_and_is_counted_there(cast, how, measure):
    found = group(cast, PLAIN, played(notes_of(PLAIN), "flute", **how), section=flutes(cast))
    assert found.counted("Steady pulse") == {measure}
    shown = heard_take(found.turn, found.turn.takes.get())
    assert f"Measure {measure}: one start after a stop." in shown.places
    assert found.page.places == (
        f"Flute, measure {measure}: steady pulse in 3 of 3 takes (likely 44 to 100 percent).",
    )
    said = [one.sentence for one in found.own.figures]
    assert f"It stopped one time, and went on in measure {measure}." in said
    assert_agrees(found)


def test_what_names_no_places_is_neither_counted_nor_heard_as_calm(cast):
    found = group(
        cast, PLAIN, played(notes_of(PLAIN), "flute"), section=flutes(cast),
        criteria=("dynamics", "articulation"),
    )  # fmt: skip
    assert found.page.counted == 3
    assert found.page.by_take == ("Dynamics", "Articulation")
    assert not found.page.compared and found.page.places == ()
    outlines = outlines_of([found.check.piece])
    assert voices_of(found.check.ensemble, outlines)[found.check.piece_id].takes == []
