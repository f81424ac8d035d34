"""Give the notes a player plays, and the measures, the ids that the drawn music keeps."""

from __future__ import annotations

from lxml import etree

from standlight.score.player_line import player_line_places
from standlight.score.reading import columns_of, identities_of, length_of, notes_of
from standlight.score.values import Remark
from standlight.score.walking import resolution_of, walk_part


def number_notes(root: etree._Element) -> None:
    """Set, in place, the ids n0, n1, ... on the player's notes and m0, m1, ... on the measures."""
    part = root.find("part")
    remarks: list[Remark] = []
    resolution = resolution_of(root)
    identity = identities_of(root, [part], remarks)[0]
    walk = walk_part(part, identity, index=0, resolution=resolution)
    lengths = [length_of(column, resolution) for column in columns_of([walk])]
    placed = notes_of(walk, lengths, resolution)
    for number, place in enumerate(player_line_places([note for _, note in placed])):
        placed[place][0].element.set("id", f"n{number}")
    for number, measure in enumerate(part.iterchildren("measure")):
        measure.set("id", f"m{number}")
