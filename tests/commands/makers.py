"""Takes, lists and scores as files, for the commands that listen."""

import wave

import numpy as np

HEAD = "onset_quarters,duration_quarters,midi,drum"


def wav(path, recording):
    """The recording as a 16-bit WAV file; its name."""
    whole = np.round(np.clip(recording.samples, -1.0, 1.0) * 32767.0).astype("<i2")
    with wave.open(str(path), "wb") as out:
        out.setnchannels(1)
        out.setsampwidth(2)
        out.setframerate(recording.rate_hz)
        out.writeframes(whole.tobytes())
    return str(path)


def csv(path, passage):
    """The passage's notes as a list; its name."""
    rows = [HEAD] + [
        f"{note.onset_quarters},{note.duration_quarters},"
        f"{'' if note.midi is None else note.midi},{note.drum or ''}"
        for note in passage.notes
    ]
    path.write_text("\n".join(rows), encoding="utf-8")
    return str(path)


def score(path, parts, meter=4):
    """A score of ``parts`` (a printed name and the XML of its measures, each); its name."""
    rows = "".join(
        f'<score-part id="P{at}"><part-name>{name}</part-name></score-part>'
        for at, (name, _) in enumerate(parts)
    )
    start = (
        "<attributes><divisions>2</divisions><key><fifths>0</fifths></key><time>"
        f"<beats>{meter}</beats><beat-type>4</beat-type></time></attributes>"
    )
    bodies = "".join(
        f'<part id="P{at}">'
        + "".join(
            f'<measure number="{number}">{start if number == 1 else ""}{inside}</measure>'
            for number, inside in enumerate(measures, start=1)
        )
        + "</part>"
        for at, (_, measures) in enumerate(parts)
    )
    path.write_text(
        f'<score-partwise version="4.0"><part-list>{rows}</part-list>{bodies}</score-partwise>',
        encoding="utf-8",
    )
    return str(path)


def note(pitch, quarters=1.0, *, chord=False, grace=False, tie=()):
    """One note of MusicXML: "A4" or "Bb4", its length in quarters, what it is besides."""
    alter = "<alter>-1</alter>" if pitch[1:-1] == "b" else ""
    length = "" if grace else f"<duration>{int(2 * quarters)}</duration>"
    ties = "".join(f'<tie type="{one}"/>' for one in tie)
    return (
        f"<note>{'<grace/>' * grace}{'<chord/>' * chord}<pitch><step>{pitch[0]}</step>{alter}"
        f"<octave>{pitch[-1]}</octave></pitch>{length}{ties}<voice>1</voice></note>"
    )
