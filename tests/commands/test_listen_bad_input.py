"""What no reading can come of, and what phones send all the same: words, never a crash."""

import io
import json
import zipfile

import av
import numpy as np
import pytest
from scipy.signal import decimate

from standlight.commands import main
from tests.commands.conftest import TRUMPET


def trumpet():
    """The trumpet take as mono float samples and its rate."""
    with av.open(TRUMPET) as container:
        frames = [frame.to_ndarray().reshape(-1) for frame in container.decode(audio=0)]
        rate_hz = container.streams.audio[0].rate
    whole = np.concatenate(frames)
    return whole.astype(float) / float(np.iinfo(whole.dtype).max), rate_hz


def written(path, planes, rate_hz, container="wav", codec="pcm_s16le"):
    """``planes`` of shape ``(channels, samples)`` as a file; its name."""
    target = io.BytesIO()
    layout = "mono" if len(planes) == 1 else "stereo"
    whole = np.ascontiguousarray(np.round(np.clip(planes, -1, 1) * 32767).astype(np.int16))
    with av.open(target, "w", format=container) as out:
        stream = out.add_stream(codec, rate=rate_hz, layout=layout)
        frame = av.AudioFrame.from_ndarray(whole, format="s16p", layout=layout)
        frame.sample_rate, frame.pts = rate_hz, 0
        cutter = av.AudioResampler(
            stream.codec_context.format, layout, rate_hz, frame_size=stream.frame_size or 1024
        )
        for part in [*cutter.resample(frame), *cutter.resample(None)]:
            out.mux(stream.encode(part))
        out.mux(stream.encode(None))
    path.write_bytes(target.getvalue())
    return str(path)


def heard(capsys, *takes, notes):
    assert main(["listen", *takes, "--notes", notes, "--tempo", "100", "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_a_telephone_and_a_dead_channel_change_no_note(tmp_path, notes, capsys):
    whole, rate_hz = trumpet()
    line = written(tmp_path / "line.wav", decimate(whole, 5)[None], rate_hz // 5, codec="pcm_mulaw")
    sides = np.stack([whole, 0.0 * whole])
    dead = written(tmp_path / "dead.m4a", sides, rate_hz, "ipod", "aac")
    usual, phone, one_side = heard(capsys, TRUMPET, line, dead, notes=notes)
    told = [[note["outcome"] for note in one["notes"]] for one in (usual, phone, one_side)]
    assert told[0] == told[1] == told[2]
    assert "narrow_band" in {verdict["code"] for verdict in phone["verdicts"]}
    assert "telephone's sound" in phone["verdicts"][0]["sentence"]
    assert abs(usual["tuning_cents"] - phone["tuning_cents"]) < 3.0
    assert abs(usual["tuning_cents"] - one_side["tuning_cents"]) < 1.0


def test_a_third_of_a_second_gives_its_length_and_no_number(tmp_path, notes, capsys):
    whole, rate_hz = trumpet()
    short = written(tmp_path / "short.wav", whole[None, rate_hz : int(1.3 * rate_hz)], rate_hz)
    (answer,) = heard(capsys, short, notes=notes)
    assert [verdict["code"] for verdict in answer["verdicts"]] == ["too_short"]
    assert "0.3 seconds" in answer["verdicts"][0]["sentence"]
    assert answer["notes"] == [] and answer["tuning_cents"] is None
    assert all(reading["value"] is None and reading["because"] for reading in answer["readings"])


def test_what_is_no_sound_is_told_by_name_and_does_not_stop_the_others(tmp_path, notes, capsys):
    packed = tmp_path / "takes.wav"
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("a.txt", "nothing")
    program = tmp_path / "take.mp3"
    program.write_bytes(b"MZ\x90\x00" + bytes(range(256)) * 20)
    drawing = tmp_path / "take.m4a"
    drawing.write_text("<svg xmlns='http://www.w3.org/2000/svg'><path d='M0 0'/></svg>")
    answers = heard(
        capsys, str(packed), TRUMPET, str(program), str(drawing), notes=notes
    )
    words = [answer["verdicts"][0]["sentence"] for answer in answers if answer["verdicts"]]
    assert "zip" in words[0] and "a program" in words[1] and "text file" in words[2]
    assert len(answers[1]["notes"]) == 15


SCORE = """<score-partwise version="4.0"><part-list><score-part id="P1"><part-name>Flute
</part-name></score-part></part-list><part id="P1"><measure number="1"><attributes><divisions>1
</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>{}</measure></part>
</score-partwise>"""
REST = '<note><rest measure="yes"/><duration>4</duration></note>'
GRACE = "<note><grace/><pitch><step>C</step><octave>5</octave></pitch><type>eighth</type></note>"


@pytest.mark.parametrize("content", [REST, GRACE + REST], ids=["no notes", "grace notes only"])
def test_a_part_without_notes_is_for_the_ear_and_says_so(tmp_path, content, capsys):
    score = tmp_path / "empty.musicxml"
    score.write_text(SCORE.format(content))
    words = ["listen", TRUMPET, "--score", str(score), "--part", "0", "--tempo", "100", "--json"]
    assert main(words) == 0
    (answer,) = json.loads(capsys.readouterr().out)
    assert [verdict["code"] for verdict in answer["verdicts"]] == ["no_notation"]
    assert all(reading["value"] is None and reading["because"] for reading in answer["readings"])


def test_a_folder_and_a_take_that_is_not_there_are_told_before_any_work(tmp_path, notes, capsys):
    assert main(["listen", str(tmp_path), "--notes", notes, "--tempo", "100"]) == 1
    assert "is a folder" in capsys.readouterr().err
    assert main(["listen", TRUMPET, "gone.wav", "--notes", notes, "--tempo", "100"]) == 3
    assert "gone.wav" in capsys.readouterr().err
