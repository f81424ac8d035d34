"""Takes with sound for the Desk in a real browser."""

from standlight.programme import store
from standlight.programme.models import Take
from standlight.workshop import playback_copy
from tests.hearing_scene import RECORDING
from tests.programme.desk_scene import make_scene, note, read, send


def give_sound(**more):
    """Let every take sound as the clarinet's recording does."""
    copy = store.keep(playback_copy(RECORDING.read_bytes()))
    Take.objects.update(playback_digest=copy, **more)


def two_turns(cast):
    """Two turns with sound: the clarinet's on notation, read; the snare's on paper."""
    scene = make_scene(cast, notation=True)
    first, second = send(scene, cast.musician), send(scene, cast.second_musician)
    give_sound()
    read(first, notes=[note(0, deviation_cents=30.0), *(note(n) for n in range(1, 11))],
         spots=[("rhythm", 1, 2, "Measures 34 to 35: two entries early.")])
    return first, second
