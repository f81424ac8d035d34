"""What the demo's groups listen to: whole pieces played by the machine, every part at once."""

from __future__ import annotations

from dataclasses import dataclass

from django.db import transaction
from django_q.tasks import async_task

from standlight.demo.programme_plan import GROUPS, MUSIC_FOLDER, PIECES
from standlight.programme import store
from standlight.programme.models import Assignment

PLAY_ALL = "standlight.demo.recordings.play_recordings"
"""The errand's dotted name, as the engine stores it."""

SEED = 77
PEAK = 0.7
"""Highest sample of a finished recording, of 1."""


@dataclass(frozen=True, slots=True)
class Recording:
    """A piece of the demo's folder by key, and its tempo in quarter notes a minute."""

    piece: str
    tempo_qpm: float


RECORDINGS = {
    "Ferry at Dusk, played by the machine": Recording("ferry_at_dusk", 100.0),
    "River Under Snow, played by the machine": Recording("river_under_snow", 76.0),
}
"""By the name that the assignment shows."""


def ask_for_recordings() -> None:
    """Have the recordings played in the background, once the transaction is committed."""
    transaction.on_commit(lambda: async_task(PLAY_ALL))


def play_recordings() -> int:
    """Play what assignments of the demo wait for; how many got a recording."""
    waiting = Assignment.objects.filter(
        ensemble__programme__is_demo=True, sound_digest="", sound_name__in=RECORDINGS
    )
    done = 0
    for name in sorted(set(waiting.values_list("sound_name", flat=True))):
        digest = store.keep(played(RECORDINGS[name]))
        done += waiting.filter(sound_name=name).update(sound_digest=digest)
    return done


def played(recording: Recording) -> bytes:
    """The recording as a file that can seek; the first note sounds at its start."""
    # Playing brings numpy and the encoder: only a worker pays for that.
    import numpy as np

    from standlight.demo.player import RATE_HZ, Rendered, encode, play
    from standlight.score import cut_passages, read_passage, read_score
    from standlight.workshop import playback_copy

    plan = next(piece for piece in PIECES if piece.key == recording.piece)
    group = next(group for group in GROUPS if group.key == plan.group)
    instruments = {section.name: section.instrument for section in group.sections}
    data = (MUSIC_FOLDER / str(plan.file)).read_bytes()
    score = read_score(data, name=str(plan.file))
    last = len(score.measures) - 1
    cuts = cut_passages(data, [(part.index, 0, last) for part in score.parts])
    takes = [
        play(
            read_passage(cut).notes,
            tempo_qpm=recording.tempo_qpm,
            instrument=instruments[part.name],
            seed=SEED + part.index,
            lead_s=0.0,
        ).samples
        for part, cut in zip(score.parts, cuts, strict=True)
    ]
    mixed = np.zeros(max(take.size for take in takes), dtype=np.float32)
    for take in takes:
        mixed[: take.size] += take
    mixed *= np.float32(PEAK / float(np.abs(mixed).max()))
    return playback_copy(encode(Rendered(mixed, RATE_HZ, ()), "flac"))
