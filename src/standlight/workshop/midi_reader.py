"""The MIDI tool, run as a child: a MIDI file on standard input, its facts as JSON on output.

The answer holds ``ticks_per_quarter``, ``tracks`` (name, program from 0, drums, notes as
[onset, duration, key]), ``meters`` [tick, beats, beat unit], ``keys`` [tick, sharps or minus
flats] and ``tempos`` [tick, quarters a minute]. Argument: the most notes
that are taken. Refuses what the parser cannot read.
"""

from __future__ import annotations

import json
import sys

from symusic import Score

from standlight.workshop.child import refuse


def main() -> None:
    """Parse what stands on standard input."""
    most_notes = int(sys.argv[1])
    try:
        score = Score.from_midi(sys.stdin.buffer.read())
    except (RuntimeError, ValueError, OverflowError) as broken:
        # The parser's own words speak of chunks and streams; one case is worth telling apart.
        if "ticks per quarter" in str(broken):
            refuse("the MIDI file counts film frames, not beats (export it again by beats?)")
        refuse("the MIDI file is damaged (an upload that broke off?)")
    if score.ticks_per_quarter <= 0:
        refuse("the MIDI file has no unit of time (a damaged file?)")
    n_notes = sum(len(track.notes) for track in score.tracks)
    if n_notes > most_notes:
        refuse(
            f"the MIDI file has {n_notes:,} notes, more than {most_notes:,}"
            " (several pieces in one file?)"
        )
    facts = {
        "ticks_per_quarter": score.ticks_per_quarter,
        "tracks": [
            {
                "name": track.name,
                "program": track.program,
                "drums": track.is_drum,
                "notes": [[note.time, note.duration, note.pitch] for note in track.notes],
            }
            for track in score.tracks
            if len(track.notes)
        ],
        "meters": [[one.time, one.numerator, one.denominator] for one in score.time_signatures],
        "keys": [[one.time, one.key] for one in score.key_signatures],
        "tempos": [[one.time, one.qpm] for one in score.tempos],
    }
    json.dump(facts, sys.stdout)


if __name__ == "__main__":
    main()
