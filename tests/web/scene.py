"""A published check for the cast's band and choir, with the tune as typed notation."""

import datetime
import io

import av
import numpy as np
from django.urls import reverse
from django.utils import timezone

from standlight.programme import store
from standlight.programme.models import Casting, CheckPassage, Part, Piece, PlayingCheck, Seat
from standlight.score import line_to_musicxml

TUNE = "time 4/4 key G tempo 96  B4 q B4 q C5 q D5 q | D5 q C5 q B4 q A4 q | G4 q G4 q A4 q B4 q"
STROKES = "time 4/4 tempo 96  x q x e x e x q x q | x q x q x h | x q x q x q x q"
CRITERIA = ["rhythm", "pulse", "intonation"]


def measures(count):
    return [
        {"index": i, "printed": str(i + 33), "movement": 0, "rehearsal": None, "beats": 4,
         "beat_unit": 4}
        for i in range(count)
    ]  # fmt: skip


def publish(cast, *, musician=None, group=None, title="Check 1", due_in=3, instrument=None, **more):
    """A check with one notated part, cast to ``musician`` (the clarinettist by default)."""
    musician = musician or cast.musician
    group = group or cast.band
    seat = Seat.objects.get(musician=musician, section__ensemble=group)
    instrument = instrument or seat.section.instrument
    piece = Piece.objects.create(ensemble=group, title="Ode", measures=measures(3))
    part = Part.objects.create(piece=piece, index=0, name=f"{instrument} 1", instrument=instrument)
    Casting.objects.create(seat=seat, piece=piece, part=part)
    check = paper(cast, group=group, piece=piece, title=title, due_in=due_in, **more)
    notation = line_to_musicxml(
        STROKES if instrument == "Snare drum" else TUNE, instrument=instrument
    )
    CheckPassage.objects.create(
        check_row=check, part=part, first_measure=0, last_measure=2,
        notation_digest=store.keep(notation),
    )  # fmt: skip
    return check


def paper(cast, *, group=None, piece=None, title="Check 1", due_in=3, printed="", **more):
    """A check without notation; with ``printed`` everyone has those measures on paper."""
    group = group or cast.band
    piece = piece or Piece.objects.create(ensemble=group, title="Paper piece")
    more = {"published_at": timezone.now(), "tempo_qpm": 96, **more}
    check = PlayingCheck.objects.create(
        ensemble=group, piece=piece, title=title, criteria=CRITERIA,
        due_on=timezone.localdate() + datetime.timedelta(due_in), made_by=cast.director, **more,
    )  # fmt: skip
    if printed:
        CheckPassage.objects.create(check_row=check, printed=printed)
    return check


def sign_in(client, account):
    client.force_login(account, backend="django.contrib.auth.backends.ModelBackend")
    return client


def of_turn(name, turn):
    """The address of one of the Desk's pages on a turn."""
    return reverse(name, args=[turn.check_row_id, turn.pk])


def wav(seconds=0.5, rate_hz=16000):
    """A sine at 440 Hz as WAV bytes."""
    return _encoded("wav", "pcm_s16le", seconds, rate_hz)


def video(seconds=0.5, rate_hz=48000):
    """A small film: a black picture and a sine at 440 Hz, as MP4 bytes."""
    return _encoded("mp4", "aac", seconds, rate_hz, picture=True)


def _encoded(container, codec, seconds, rate_hz, *, picture=False):
    target = io.BytesIO()
    tone = np.sin(2 * np.pi * 440 * np.arange(int(seconds * rate_hz)) / rate_hz)
    samples = (tone * 12000).astype(np.int16)
    with av.open(target, "w", format=container) as out:
        sound = out.add_stream(codec, rate=rate_hz, layout="mono")
        film = out.add_stream("mpeg4", rate=10, width=32, height=32, pix_fmt="yuv420p") if (
            picture
        ) else None
        for start in range(0, len(samples), 1024):
            block = np.ascontiguousarray(samples[None, start : start + 1024])
            frame = av.AudioFrame.from_ndarray(block, format="s16", layout="mono")
            frame.sample_rate, frame.pts = rate_hz, start
            out.mux(sound.encode(frame))
        out.mux(sound.encode(None))
        if film is not None:
            for number in range(5):
                image = av.VideoFrame.from_ndarray(np.zeros((32, 32, 3), np.uint8), format="rgb24")
                image.pts = number
                out.mux(film.encode(image))
            out.mux(film.encode(None))
    return target.getvalue()
