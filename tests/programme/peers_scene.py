"""Musicians of the band who let each other hear their takes, for the tests that need some."""

import datetime

from django.utils import timezone

from standlight.programme import store
from standlight.programme.actions.peers import (
    PeerSaid,
    RoundTerms,
    ask_group,
    hand_next,
    note_heard,
    open_round,
    say_consent,
    send_hearing,
)
from tests.programme.desk_scene import make_scene, more_clarinets, send
from tests.web.scene import wav

BOTH = ("intonation", "rhythm")
LEVELS = {"intonation": "2", "rhythm": "3"}
WELL = PeerSaid(levels=LEVELS, well="The long note rings", first_measure=1, to_try="Breathe early")


def ask(scene, **more):
    """A round of the scene's check: two criteria, two takes each, a week."""
    terms = {
        "criteria": BOTH, "takes_each": 2,
        "until": timezone.localdate() + datetime.timedelta(7), **more,
    }  # fmt: skip
    return ask_group(scene.cast.director, scene.check, RoundTerms(**terms))


def make_people(cast, count=4, scene=None):
    """The scene and ``count`` clarinettists who have each sent a take with sound."""
    scene = scene or make_scene(cast)
    people = [cast.musician, *more_clarinets(scene, count - 1)]
    digest = store.keep(wav())
    for one in people:
        send(scene, one).takes.update(playback_digest=digest)
    return scene, people


def make_round(cast, count=4, *, scene=None, **more):
    """The round, opened, of ``count`` clarinettists who all said yes; and they."""
    scene, people = make_people(cast, count, scene)
    row = ask(scene, **more)
    for one in people:
        say_consent(one, row, yes=True)
    open_round(cast.director, row)
    row.refresh_from_db()
    return row, people


def plays(row, listener):
    """One take handed to ``listener`` whose sound went out to them."""
    hearing = hand_next(listener, row)
    note_heard(hearing)
    hearing.refresh_from_db()
    return hearing


def hears(row, listener, said=WELL):
    """One take handed to ``listener``, heard, and answered."""
    hearing = plays(row, listener)
    send_hearing(hearing, said)
    hearing.refresh_from_db()
    return hearing
