"""Numbers, ids and sizes that no program writes: a score is read or refused, never a crash.

The rules are those of MusicXML 4.0 (types ``decimal``, ``ending-number``) and MIDI 1.0
(pitches 0 to 127); the files are made up here.
"""

from __future__ import annotations

import pytest

from standlight.criteria import CRITERIA
from standlight.errors import UnreadableScore
from standlight.passages import find_passages, survey_piece
from standlight.score import cut_passage, read_passage, read_score
from standlight.score.container import MOST_MEASURES
from standlight.score.midi_piece import MidiNote, MidiPiece, MidiTrack
from standlight.score.midi_writing import musicxml_of_midi

NOTE = "<note><pitch><step>C</step><octave>5</octave></pitch><duration>1</duration></note>"
FIRST = "<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>"  # noqa: E501


def a_score(first: str = NOTE * 4, *, attributes: str = FIRST, identity: str = "P1") -> bytes:
    """Twelve measures of quarter notes, the first as given."""
    measures = "".join(f'<measure number="{at}">{NOTE * 4}</measure>' for at in range(2, 13))
    return (
        f'<score-partwise><part-list><score-part id="{identity}"><part-name>Oboe</part-name>'
        f'</score-part></part-list><part id="{identity}"><measure number="1">{attributes}{first}'
        f"</measure>{measures}</part></score-partwise>"
    ).encode()


def with_duration(text: str) -> bytes:
    """The score whose first note lasts ``text``."""
    return a_score(NOTE.replace("<duration>1<", f"<duration>{text}<") + NOTE * 3)


@pytest.mark.parametrize(
    "data",
    [
        with_duration("1e30000000"),
        with_duration("9" * 5000),
        with_duration("9" * 400),
        with_duration("²"),
        a_score(attributes=FIRST.replace("</div", "e9</div")),
        a_score(attributes=FIRST.replace("<time>", "<key><fifths>1e20000000</fifths></key><time>")),
        a_score(attributes=FIRST.replace("</attr", "<staves>99999999</staves></attr")),
        a_score(f'<sound tempo="{"9" * 400}"/>{NOTE * 4}'),
        a_score(
            "<direction><direction-type><metronome><beat-unit>quarter</beat-unit><per-minute>"
            f"{'9' * 400}</per-minute></metronome></direction-type></direction>{NOTE * 4}"
        ),
        a_score(NOTE.replace("</note>", "<voice>²</voice></note>") * 4),
        a_score().replace(b'number="3"', 'number="³"'.encode()),
        a_score().replace(b'number="3"', b'number="' + b"9" * 5000 + b'"'),
        a_score(f'<barline><repeat direction="backward" times="1e7000000"/></barline>{NOTE * 4}'),
        a_score(identity="P'1"),
        b'<?xml version="1.0" encoding="undefined"?>' + a_score(),
        b'<?xml version="1.0" encoding="punycode"?>' + a_score(),
    ],
)  # fmt: skip
def test_an_odd_number_or_name_spoils_no_other_measure(data: bytes) -> None:
    """The eleven plain measures are read, surveyed and cut all the same."""
    score = read_score(data)
    plain = [note for note in score.parts[0].notes if note.measure >= 1]
    assert [note.midi for note in plain] == [72] * 44
    found = find_passages(survey_piece(score), [CRITERIA["tone"]])
    assert found.parts[0].passage is not None
    assert len(read_passage(cut_passage(data, 0, 4, 11)).notes) == 32
    assert read_passage(cut_passage(data, 0, 0, 3)).printed.startswith("1 to ")


def test_a_pitch_that_no_instrument_sounds_is_left_out_with_a_remark() -> None:
    """Sounding pitches are 0 to 127; the database keeps no others."""
    outside = NOTE.replace(">5<", ">-3<") + NOTE.replace(">5<", ">40<") + NOTE * 2
    score = read_score(a_score(outside))
    assert score.parts[0].lowest_midi == score.parts[0].highest_midi == 72
    assert len(score.parts[0].notes) == 46
    assert [one.code for one in score.remarks].count("pitch_range") == 1
    shifted = FIRST.replace("</attr", "<transpose><chromatic>-90</chromatic></transpose></attr")
    score = read_score(a_score(attributes=shifted))
    assert not score.parts[0].notes
    assert [one.code for one in score.remarks].count("pitch_range") == 1


def test_an_ending_of_several_passes_written_with_points() -> None:
    """ "1.2." numbers two passes, as engravers print it (common practice, no source)."""
    repeat = '<barline location="left"><repeat direction="forward"/></barline>'
    data = a_score(repeat + NOTE * 4).decode()
    first = '<measure number="2"><barline location="left"><ending number="1.2." type="start"/>'
    back = '<ending number="1.2." type="stop"/><repeat direction="backward"/></barline></measure>'
    data = data.replace('<measure number="2">', f"{first}</barline>")
    data = data.replace(
        f'{NOTE * 4}</measure><measure number="3">',
        f'{NOTE * 4}<barline location="right">{back}<measure number="3">'
        '<barline location="left"><ending number="3" type="start"/></barline>',
        1,
    )
    data = data.replace(
        f'{NOTE * 4}</measure><measure number="4">',
        f'{NOTE * 4}<barline location="right"><ending number="3" type="stop"/></barline>'
        '</measure><measure number="4">',
        1,
    )
    assert read_score(data.encode()).play_order[:7] == (0, 1, 0, 1, 0, 2, 3)


def test_divisions_without_a_common_multiple_are_rounded_not_multiplied() -> None:
    """Sixty large primes would make a unit of hundreds of digits."""
    primes = [at for at in range(100_003, 101_000, 2) if all(at % by for by in range(3, 320, 2))]
    measures = "".join(
        f'<measure number="{at}"><attributes><divisions>{prime}</divisions></attributes>'
        f"{NOTE.replace('<duration>1<', f'<duration>{prime}<') * 4}</measure>"
        for at, prime in enumerate(primes[:60], start=1)
    )
    score = read_score(
        f'<score-partwise><part-list/><part id="P1">{measures}</part></score-partwise>'.encode()
    )
    assert {float(one.length_quarters) for one in score.measures} == {4.0}
    assert max(one.onset_quarters.denominator for one in score.measures) < 10**16


def test_more_measures_than_any_music_has_are_refused() -> None:
    """Three megabytes of empty measures would fill gigabytes of memory."""
    many = b"<measure/>" * (MOST_MEASURES + 1)
    with pytest.raises(UnreadableScore, match="measures in all parts"):
        read_score(b'<score-partwise><part id="P1">' + many + b"</part></score-partwise>")
    with pytest.raises(UnreadableScore, match="no measure"):
        read_score(b'<score-partwise><part-list/><part id="P1"/></score-partwise>')


def test_midi_notes_that_never_end_are_refused_before_they_are_written() -> None:
    """A thousand tracks of chords held for 5,000 measures: 640 million tied notes."""
    whole = 480 * 4 * 4_999
    track = MidiTrack("Organ", 19, False, tuple(MidiNote(0, whole, key) for key in range(128)))
    with pytest.raises(UnreadableScore, match="measures and notes"):
        musicxml_of_midi(MidiPiece(480, (track,) * 1_000))
    one = MidiTrack("Organ", 19, False, (MidiNote(0, 480 * 4 * 100, 60),))
    (part,) = read_score(musicxml_of_midi(MidiPiece(480, (one,)))).parts
    assert [note.duration_quarters for note in part.notes] == [400]
