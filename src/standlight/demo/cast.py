"""Who sits where in the demo, and whose take has a story of its own."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, timedelta

import numpy as np

from standlight.demo.names import FAMILY_NAMES, GIVEN_NAMES, SAME_SURNAME_PAIRS
from standlight.demo.plan import GroupPlan, MusicianPlan, SeatPlan
from standlight.demo.programme_plan import GROUPS

Place = tuple[str, str, int]
"""Group, section and 0-based place in it."""

NAMED: dict[Place, tuple[str, str]] = {
    ("band", "Clarinet", 3): SAME_SURNAME_PAIRS[0][0],
    ("band", "Clarinet", 4): SAME_SURNAME_PAIRS[0][1],
    ("band", "Trombone", 2): SAME_SURNAME_PAIRS[1][0],
    ("strings", "Cello", 1): SAME_SURNAME_PAIRS[1][1],
}
"""Seats whose names are given, so that family names meet."""

BAND_AND_CHOIR: tuple[Place, Place] = (("band", "Alto saxophone", 1), ("choir", "Alto", 16))
"""The one musician who plays in the band and sings in the choir."""

DETAILS: dict[Place, dict] = {
    ("band", "Tuba", 1): {"way": "live_only"},
    ("choir", "Soprano", 5): {"way": "live_only"},
    ("choir", "Bass", 7): {
        "way": "neither",
        "changed_goal": "Sings with the section; is not heard alone this year.",
    },
    ("band", "Clarinet", 6): {
        "accommodation": "May take the passage at 60, in a room of their own."
    },
    ("strings", "Violin 2", 4): {"accommodation": "Large print part; one day more."},
    ("band", "Percussion", 5): {"changed_goal": "Plays measures 9 to 12 with a steady beat."},
}
"""What the roster says of single musicians: instructions only, never reasons."""

LATE_JOINER: Place = ("band", "Trumpet", 8)
JOINED_DAYS_AGO = 9

CHANGING_VOICES: dict[Place, tuple[int, int]] = {
    ("choir", "Alto", 0): (53, 69),
    ("choir", "Tenor", 0): (53, 69),
    ("choir", "Tenor", 1): (50, 66),
    ("choir", "Tenor", 4): (50, 66),
    ("choir", "Bass", 0): (47, 63),
}
"""Comfortable ranges in sounding MIDI: midvoice II, IIA and new voice (Cooksey's stages; from
memory)."""

SPECIAL_TAKES: dict[Place, dict] = {
    ("band", "Clarinet", 6): {"tempo_ratio": 0.69},
    ("band", "Clarinet", 2): {"restarts": 2, "hesitations": 1, "wrong": 1, "noise_dbfs": -62.0},
    ("band", "Trumpet", 3): {"held": 1},
    ("band", "Baritone", 0): {"octave": -1, "wrong": 0, "noise_dbfs": -64.0},
    ("band", "Percussion", 0): {"timing_ms": 32.0, "rush_percent": 9.0, "skipped": 1},
    ("band", "Flute", 4): {"silent": True, "noise_dbfs": -74.0},
    ("band", "Trombone", 1): {"clipped": True},
    ("band", "Alto saxophone", 2): {"noise_dbfs": -27.0},
    ("strings", "Cello", 2): {"tuning_cents": -28.0, "spread_cents": 30.0},
}
"""Takes with a story: as slow as agreed, stops and restarts, a note held too long, an octave down,
a snare, silent, clipped, noisy, out of tune."""


SHOWN_MUSICIAN: Place = ("strings", "Cello", 1)
"""Whose sign-in a start prints: one check answered, another still to be sent."""

STILL_TO_SEND = {"strings_second": SHOWN_MUSICIAN}
ALREADY_SENT = {"strings_first": SHOWN_MUSICIAN}
"""By check: somebody who is not among those who sent, somebody who is."""


def people(today: date, rng: np.random.Generator) -> tuple[MusicianPlan, ...]:
    """Every musician once, seats in group and section order; full names and ids are unique."""
    names = _names(rng)
    doubled_from, doubled_to = BAND_AND_CHOIR
    made: dict[Place, MusicianPlan] = {}
    for group in GROUPS:
        for section in group.sections:
            for n in range(section.size):
                place = (group.key, section.name, n)
                if place == doubled_to:
                    continue
                made[place] = _musician(place, group, names, len(made), today, rng)
    both = made[doubled_from]
    made[doubled_from] = replace(both, seats=(*both.seats, _seat(doubled_to, today)))
    return tuple(made.values())


def _musician(
    place: Place,
    group: GroupPlan,
    names: Iterator[tuple[str, str]],
    number: int,
    today: date,
    rng: np.random.Generator,
) -> MusicianPlan:
    given, family = NAMED.get(place) or next(names)
    grade = int(rng.choice(group.grades))
    if place in CHANGING_VOICES:
        grade = 7 if place[1] == "Alto" else 8
    return MusicianPlan(
        roster_id=f"Q{1001 + number}",
        given_name=given,
        family_name=family,
        grade=grade,
        seats=(_seat(place, today),),
        **DETAILS.get(place, {}),
    )


def _seat(place: Place, today: date) -> SeatPlan:
    group, section, _ = place
    return SeatPlan(
        group,
        section,
        joined_on=today - timedelta(days=JOINED_DAYS_AGO) if place == LATE_JOINER else None,
        voice_changing=place in CHANGING_VOICES,
        comfort_midi=CHANGING_VOICES.get(place),
    )


def _names(rng: np.random.Generator) -> Iterator[tuple[str, str]]:
    """Given and family names without end, no full name twice, none of the named pairs."""
    used = set(NAMED.values())
    families, givens = _endless(FAMILY_NAMES, rng), _endless(GIVEN_NAMES, rng)
    while True:
        family, given = next(families), next(givens)
        if (given, family) not in used:
            used.add((given, family))
            yield given, family


def _endless(names: Sequence[str], rng: np.random.Generator) -> Iterator[str]:
    """The names in random order, and again in another once all have been."""
    while True:
        yield from (str(name) for name in rng.permutation(names))
