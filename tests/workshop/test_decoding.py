"""Decoding in the child: what phones make is read, what is no take is refused in words."""

import io

import av
import numpy as np
import pytest

from standlight.errors import UnreadableTake
from standlight.workshop.decoding import decode, decode_with_copy, playback_copy

RATE_HZ = 48_000


def tone(seconds=1.0, channels=1, level=0.5):
    time_s = np.arange(int(seconds * RATE_HZ)) / RATE_HZ
    wave = (level * np.sin(2 * np.pi * 440.0 * time_s)).astype(np.float32)
    return np.stack([wave] * channels)


def made(container, codec, planes, picture=False):
    """A file in ``container`` with sound ``planes`` (channels, samples), and a picture if asked."""
    target = io.BytesIO()
    layout = "mono" if len(planes) == 1 else "stereo"
    with av.open(target, "w", format=container) as out:
        if picture:
            video = out.add_stream("mpeg4" if container == "mp4" else "libvpx", rate=10)
            video.width, video.height, video.pix_fmt = 64, 64, "yuv420p"
        sound = out.add_stream(codec, rate=RATE_HZ, layout=layout)
        if picture:
            for _ in range(5):
                black = av.VideoFrame.from_ndarray(np.zeros((64, 64, 3), np.uint8), format="rgb24")
                out.mux(video.encode(black))
            out.mux(video.encode(None))
        resampler = av.AudioResampler(sound.codec_context.format, layout, RATE_HZ)
        frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(planes), "fltp", layout)
        frame.sample_rate = RATE_HZ
        fifo = av.AudioFifo()
        for ready in resampler.resample(frame):
            fifo.write(ready)
        size = sound.codec_context.frame_size or 1024
        while (piece := fifo.read(size, partial=True)) is not None:
            out.mux(sound.encode(piece))
        out.mux(sound.encode(None))
    return target.getvalue()


@pytest.mark.parametrize(
    ("container", "codec"),
    [("webm", "libopus"), ("ogg", "libopus"), ("mp4", "aac"), ("wav", "pcm_s16le"),
     ("flac", "flac"), ("mp3", "libmp3lame"), ("mp4", "libopus"), ("ipod", "aac"),
     ("ipod", "alac"), ("adts", "aac"), ("mov", "pcm_s16le"), ("ogg", "flac")],
)  # fmt: skip
def test_what_browsers_and_phones_make_is_read(container, codec):
    recording = decode(made(container, codec, tone()))
    assert recording.rate_hz == RATE_HZ
    assert recording.samples.dtype == np.float32
    # lossy coders pad their blocks
    assert recording.seconds == pytest.approx(1.0, abs=0.08)
    middle = recording.samples[RATE_HZ // 4 : 3 * RATE_HZ // 4]
    assert np.sqrt(np.mean(middle**2)) == pytest.approx(0.5 / np.sqrt(2), rel=0.05)
    assert not recording.damaged


def test_channels_are_averaged_and_not_summed():
    # FFmpeg's own downmix adds 3 dB
    both = decode(made("wav", "pcm_s16le", tone(channels=2)))
    assert both.channels == 2
    assert np.abs(both.samples).max() == pytest.approx(0.5, abs=0.01)


@pytest.mark.parametrize(("container", "codec"), [("wav", "pcm_s16le"), ("mp4", "aac")])
@pytest.mark.parametrize("dead", [0, 1])
def test_a_dead_channel_neither_halves_nor_silences_the_other(container, codec, dead):
    one_dead = tone(channels=2)
    one_dead[dead] = 1e-4 * np.random.default_rng(3).normal(size=one_dead.shape[1])
    read = decode(made(container, codec, one_dead))
    middle = read.samples[RATE_HZ // 4 : 3 * RATE_HZ // 4]
    assert read.channels == 2
    assert np.sqrt(np.mean(middle**2)) == pytest.approx(0.5 / np.sqrt(2), rel=0.05)


def test_a_channel_wired_the_wrong_way_round_does_not_cancel_the_other():
    against = tone(channels=2)
    against[1] *= -1.0
    read = decode(made("wav", "pcm_s16le", against))
    assert np.abs(read.samples).max() == pytest.approx(0.5, abs=0.01)


def test_a_video_gives_its_sound_and_the_picture_is_dropped():
    recording = decode(made("mp4", "aac", tone(), picture=True))
    assert recording.picture_dropped
    assert recording.seconds == pytest.approx(1.0, abs=0.08)


def test_a_video_without_sound_is_refused():
    target = io.BytesIO()
    with av.open(target, "w", format="mp4") as out:
        video = out.add_stream("mpeg4", rate=10)
        video.width, video.height, video.pix_fmt = 64, 64, "yuv420p"
        for _ in range(5):
            black = av.VideoFrame.from_ndarray(np.zeros((64, 64, 3), np.uint8), format="rgb24")
            out.mux(video.encode(black))
        out.mux(video.encode(None))
    with pytest.raises(UnreadableTake, match="no sound"):
        decode(target.getvalue())


@pytest.mark.parametrize(
    ("take", "words"),
    [
        (b"", "empty"),
        (b"hello " * 100, "text file"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><path d='M0 0'/></svg>" * 20, "text file"),
        (b"\x89PNG\r\n\x1a\n" + b"\0" * 500, "a picture, not a recording"),
        (b"PK\x03\x04" + bytes(range(256)) * 8, "zip"),
        (b"MZ\x90\x00" + bytes(range(256)) * 8, "a program"),
        (b"%PDF-1.7\n" + bytes(range(256)) * 8, "PDF"),
        (b"MThd\0\0\0\x06\0\1\0\2" + bytes(300), "notes, not sound"),
        (bytes(range(256)) * 40, "not a recording this tool can read"),
    ],
)
def test_what_is_no_take_is_refused_in_words(take, words):
    with pytest.raises(UnreadableTake, match=words):
        decode(take)


def test_a_playlist_that_points_elsewhere_opens_nothing():
    listed = b"#EXTM3U\n#EXT-X-TARGETDURATION:1\n#EXTINF:1,\nfile:///etc/passwd\n"
    with pytest.raises(UnreadableTake):
        decode(listed + bytes(range(128, 256)) * 20)


@pytest.mark.parametrize(("container", "codec"), [("webm", "libopus"), ("ogg", "libopus")])
@pytest.mark.parametrize("share", [0.3, 0.5, 0.9])
def test_a_broken_file_gives_what_can_be_read(container, codec, share):
    whole = made(container, codec, tone(4.0))
    part = decode(whole[: int(share * len(whole))])
    assert 0.2 * share * 4.0 < part.seconds <= 4.0 * share + 0.6
    middle = part.samples[RATE_HZ // 4 : RATE_HZ // 2]
    assert np.sqrt(np.mean(middle**2)) == pytest.approx(0.5 / np.sqrt(2), rel=0.05)


def test_an_mp4_whose_end_is_lost_is_refused_in_words():
    # its table of contents stands at the end (ISO/IEC 14496-12: the moov box)
    whole = made("mp4", "aac", tone(4.0))
    with pytest.raises(UnreadableTake, match="not a recording this tool can read"):
        decode(whole[: len(whole) // 2])


def test_forty_minutes_are_refused_in_words():
    quiet = np.zeros((1, 8_000), dtype=np.int16)
    target = io.BytesIO()
    with av.open(target, "w", format="ogg") as out:
        stream = out.add_stream("flac", rate=8_000, layout="mono")
        for second in range(2_400):
            frame = av.AudioFrame.from_ndarray(quiet, format="s16", layout="mono")
            frame.sample_rate, frame.pts = 8_000, second * 8_000
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    with pytest.raises(UnreadableTake, match="longer than 10 minutes"):
        decode(target.getvalue())


def test_a_telephone_recording_keeps_its_rate():
    target = io.BytesIO()
    time_s = np.arange(16_000) / 8_000
    wave = np.round(16_000 * np.sin(2 * np.pi * 440.0 * time_s)).astype(np.int16)[None]
    with av.open(target, "w", format="wav") as out:
        stream = out.add_stream("pcm_mulaw", rate=8_000, layout="mono")
        frame = av.AudioFrame.from_ndarray(wave, format="s16", layout="mono")
        frame.sample_rate = 8_000
        out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    read = decode(target.getvalue())
    assert read.rate_hz == 8_000 and read.seconds == pytest.approx(2.0, abs=0.01)
    # ITU-T G.711: mu-law keeps 14 bits' range with about 38 dB of signal over noise
    wanted = wave[0] / 32768.0
    noise = read.samples[: len(wanted)] - wanted[: len(read.samples)]
    assert 10 * np.log10(np.mean(wanted**2) / np.mean(noise**2)) > 30


def test_the_copy_is_a_mono_flac_of_the_same_length():
    take = made("webm", "libopus", tone(2.0, channels=2))
    recording, copy = decode_with_copy(take)
    again = decode(copy)
    assert copy[:4] == b"fLaC"
    assert again.channels == 1 and len(again.samples) == len(recording.samples)
    assert np.abs(again.samples - recording.samples).max() < 1e-4
    # the header holds the length, so that a browser can seek: 36 bits from byte 21 of STREAMINFO
    total = int.from_bytes(copy[21:26], "big") & 0xFFFFFFFFF
    assert total == len(recording.samples)
    assert playback_copy(take) == copy
