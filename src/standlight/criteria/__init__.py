"""What a director listens for: the table of criteria and the figures each one can read.

``CRITERIA`` maps a key to its ``Criterion`` (name, question, descriptors of levels 1 to 4,
instrument families, and how it reads a followed performance). Adding a criterion is one
module and one line here; shared code never asks which criterion it holds. A reading
describes one recording; only a person gives a level.
"""

from __future__ import annotations

from standlight.criteria import (
    articulation,
    bowing,
    diction,
    dynamics,
    evenness,
    expression,
    intonation,
    notes,
    open_strings,
    pulse,
    rhythm,
    shifts,
    sticking,
    tone,
    vowels,
)
from standlight.criteria.spots import Spot, spots_of
from standlight.criteria.values import Criterion, Reading

CRITERIA: dict[str, Criterion] = {
    module.CRITERION.key: module.CRITERION
    for module in (
        tone,
        intonation,
        notes,
        rhythm,
        pulse,
        dynamics,
        articulation,
        expression,
        diction,
        vowels,
        bowing,
        shifts,
        open_strings,
        evenness,
        sticking,
    )
}
"""Every criterion the tool ships, by key, in the order a rubric shows them."""

__all__ = ["CRITERIA", "Criterion", "Reading", "Spot", "spots_of"]
