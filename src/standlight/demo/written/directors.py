"""Directors' own sheets, laid over the group's: what they pinned, heard and rated themselves."""

from __future__ import annotations

from standlight.demo.written.listening import moment_s


def _at(measure: int) -> dict:
    return {"measure": measure}


OWN: dict[str, dict[str, dict]] = {
    "score_study": {
        "find": {
            "form": [
                {"at": _at(1), "what": "opening", "how": "The tune, all together, mf."},
                {"at": _at(9), "what": "new", "how": "Letter A: soft, and the cellos sing."},
                {"at": _at(17), "what": "again", "how": "Letter B: the first tune, now f."},
                {"at": _at(21), "what": "ending", "how": "The run down to the last D."},
            ],
            "role": [
                {"at": _at(1), "job": "tune", "with": "Violin 1"},
                {"at": _at(9), "job": "beat", "with": "Violin 2 and violas"},
                {"at": _at(17), "job": "tune", "with": "Violin 1"},
            ],
            "home": [{"at": _at(1), "key": "D major", "how": "Two sharps, and D at both ends."}],
            "texture": [
                {"at": _at(1), "how": "tune", "who": "Violin 1"},
                {"at": _at(9), "how": "tune", "who": "the cellos"},
                {"at": _at(13), "how": "tune", "who": "the cellos, with dots above"},
            ],
            "hardest": [
                {"at": _at(9), "why": "entry", "plan": "Breathe on the silent first beat."},
                {"at": _at(21), "why": "hands", "plan": "Half speed, left hand alone first."},
            ],
        },
    },
    "listening_map": {
        "first": {
            "changes": [
                {"at": {"at_s": moment_s(9)}, "what": "softer", "more": "all but the cellos"},
                {"at": {"at_s": moment_s(13)}, "what": "brighter", "more": "dots on top"},
                {"at": {"at_s": moment_s(17)}, "what": "back", "more": "the first tune, now loud"},
                {"at": {"at_s": moment_s(21)}, "what": "faster", "more": "the run"},
            ]
        },
        "second": {
            "leads": [
                {"at": {"at_s": moment_s(1)}, "who": "high", "rest": "they follow in step"},
                {"at": {"at_s": moment_s(9)}, "who": "low", "rest": "short notes after the beat"},
                {"at": {"at_s": moment_s(17)}, "who": "high", "rest": "as at the start, louder"},
            ]
        },
        "third": {
            "moment": {"at_s": moment_s(17), "words": "the shore again"},
            "how": "For eight measures nearly everyone rests on the first beat, so that we wait "
            "for it. Then all of them land on it together, loud, with the tune we know.",
        },
    },
    "adjudication": {
        "practice": {
            "take": "first", "sound": "3", "tuning": "4", "time": "4", "balance": "2",
            "style": "2", "sure": 3,
        },
        "judge": {
            "sound": "3", "sound_reason": "Clear at every level, a little thin at letter C.",
            "tuning": "4", "tuning_reason": "The chords at 4, 8 and 16 ring.",
            "time": "4", "time_reason": "Starts and ends as one, also after 13.",
            "balance": "2", "balance_reason": "The basses cover the tenors from 13 on.",
            "style": "3", "style_reason": "Soft, loud, soft again: but few lines lean anywhere.",
            "tell": "Keep the tuning. Let one word in every line be the one you sing for.",
        },
    },
}  # fmt: skip
"""Kind to step to answers."""
