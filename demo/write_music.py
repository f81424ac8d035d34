"""Write the demo's own pieces as MusicXML into demo/music: ``python demo/write_music.py``.

Four pieces made for this demo, free for any use (CC0 1.0). Run again, the files
come out byte for byte the same; a test holds them to it.
"""

from __future__ import annotations

import sys
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE))

from engraver import Piece, Staff, parse_line, shift, write  # noqa: E402

BY = "Written for this demo"

LANTERN_WALK = """
!mf D5 q D5 q C5 q Bb4 q | C5 q D5 q C5 h | D5 q Eb5 q F5 q D5 q | C5 h. r q |
D5 q D5 q C5 q Bb4 q | C5 q D5 q Bb4 h | Eb5 q D5 q C5 q D5 q | Bb4 h. r q |
[A] !p F5 q( G5 q) F5 q( Eb5 q) | D5 h F5 h | Eb5 q( F5 q) Eb5 q( D5 q) | C5 h. r q |
!f D5 e D5 e D5 q> C5 e C5 e Bb4 q> | C5 e D5 e Eb5 e D5 e C5 h |
F5 q D5 q Eb5 q C5 q | Bb4 h. r q |
"""

LANTERN_DRUMS = {
    "Snare drum": """
!mf x q x e x e x q x e x e | x q x q x q r q | x q x e x e x q x e x e | x q x e x e x q r q |
x q x e x e x q x e x e | x q x q x q r q | x e x e x q x e x e x q | x q x q x q r q |
!p x q r q x q r q | x q x q x q r q | x q r q x q r q | x e x e x q x q r q |
!f x e x e x q> x e x e x q> | x e x e x e x e x q x q | x q x q x q x e x e | x q> x q> x q> r q |
""",
    "Bass drum": """
!mf x h x h | x h x h | x h x h | x h x q r q | x h x h | x h x h | x h x h | x h x q r q |
!p x w | x h x h | x w | x h x q r q |
!f x q x q x q x q | x q x q x h | x q x q x q x q | x q x q x q r q |
""",
    "Crash cymbals": """
r w | r h x h | r w | r h x q r q | r w | r h x h | r w | r h x q r q |
r w | r w | r w | r h !f x q r q | x h x h | x h x h | x h x h | r h x q r q |
""",
}

BAND = (  # staff, octaves from the tune as written above, steps of the scale
    (Staff("Flute", "Flute", program=74), 0, 0),
    (Staff("Oboe", "Oboe", program=69), 0, 0),
    (Staff("Bassoon", "Bassoon", "F4", program=71), -2, 0),
    (Staff("Clarinet in Bb", "Clarinet in Bb", "G2", -2, -1, program=72), -1, 0),
    (Staff("Bass clarinet", "Bass clarinet in Bb", "G2", -2, -1, -1, program=72), -2, 0),
    (Staff("Alto saxophone", "Alto saxophone in Eb", "G2", -9, -5, program=66), -1, 0),
    (Staff("Tenor saxophone", "Tenor saxophone in Bb", "G2", -2, -1, -1, program=67), -1, 0),
    (Staff("Baritone saxophone", "Baritone saxophone in Eb", "G2", -9, -5, -1, program=68), -2, 0),
    (Staff("Trumpet in Bb", "Trumpet in Bb", "G2", -2, -1, program=57), -1, 0),
    (Staff("Horn in F", "Horn in F", "G2", -7, -4, program=61), -1, -5),
    (Staff("Trombone", "Trombone", "F4", program=58), -2, 0),
    (Staff("Baritone", "Baritone / euphonium", "F4", program=59), -2, 0),
    (Staff("Tuba", "Tuba", "F4", program=59), -3, 0),
    (Staff("Bells", "Glockenspiel", "G2", 0, 0, 2, program=10), 2, 0),
)

PAPER_PARADE = """
!mf x q x q x e x e x q | x e x e x e x e x q r q | x q x e x e x q x e x e | x q x q x q r q |
x q> x e x e x q> x e x e | x s x s x s x s x q x s x s x s x s x q |
x e x e x q x e x e x q | x q x q> x q r q |
[A] !p x q r q x e x e x q | x e x e x q r q x q |
x s x s x s x s x q x e x e x q | x q x q x q r q |
!f x q> x e x e> x e x e x q> | x s x s x s x s x e x e x s x s x s x s x q |
x e x e> x e x e> x q> x q> | x q> x e x e x q> r q |
"""

RIVER = {
    "Soprano": """
!mp A4 q A4 q Bb4 q A4 q | G4 q A4 q G4 h | A4 q A4 q Bb4 q C5 q | A4 q G4 q F4 h |
[A] !mf C5 q C5 q D5 q C5 q | Bb4 q A4 q G4 h | A4 q Bb4 q G4 q G4 q | A4 q G4 q F4 h |
[B] !mp D5 q D5 q C5 q Bb4 q | A4 q G4 q A4 h | A4 q C5 q D5 q D5 q | C5 q Bb4 q A4 h |
[C] !f D5 q C5 q Bb4 q A4 q | G4 q A4 q Bb4 h | C5 q C5 q D5 q C5 q | !p Bb4 q G4 q F4 h |
""",
    "Alto": """
!mp F4 q F4 q F4 q F4 q | E4 q F4 q E4 h | F4 q F4 q G4 q G4 q | F4 q E4 q C4 h |
!mf A4 q G4 q F4 q F4 q | F4 q F4 q E4 h | F4 q F4 q E4 q E4 q | F4 q E4 q C4 h |
!mp F4 q F4 q F4 q G4 q | F4 q E4 q F4 h | F4 q F4 q F4 q F4 q | F4 q E4 q F4 h |
!f D4 q F4 q F4 q F4 q | E4 q F4 q G4 h | G4 q G4 q F4 q F4 q | !p G4 q E4 q C4 h |
""",
    "Tenor": """
!mp C4 q C4 q D4 q C4 q | C4 q C4 q C4 h | C4 q C4 q D4 q E4 q | C4 q C4 q A3 h |
!mf C4 q C4 q A3 q C4 q | D4 q C4 q C4 h | C4 q D4 q C4 q Bb3 q | A3 q C4 q A3 h |
!mp Bb3 q Bb3 q C4 q D4 q | C4 q C4 q C4 h | C4 q A3 q A3 q Bb3 q | A3 q G3 q F3 h |
!f Bb3 q C4 q D4 q C4 q | C4 q C4 q D4 h | E4 q C4 q A3 q C4 q | !p D4 q C4 q A3 h |
""",
    "Bass": """
!mp F3 q F3 q Bb2 q F3 q | C3 q A2 q C3 h | F3 q A2 q G2 q C3 q | F3 q C3 q F3 h |
!mf F3 q E3 q D3 q A2 q | D3 q F3 q C3 h | F3 q Bb2 q C3 q C3 q | F3 q C3 q F3 h |
!mp Bb2 q Bb2 q A2 q G2 q | A2 q C3 q F3 h | F3 q F3 q D3 q D3 q | F3 q C3 q D3 h |
!f G2 q A2 q Bb2 q F3 q | C3 q A2 q G2 h | C3 q E3 q D3 q A2 q | !p G2 q C3 q F3 h |
""",
}

RIVER_TEXT = """
Win- -ter ri- -ver, dark and slow, car- -ry home the fall- -ing snow;
hold our voi- -ces, let them be one small wa- -ter to the sea.
Morn- -ing o- -pens, light and low, all the fro- -zen fields let go;
what we car- -ry, we will sing, qui- -et wa- -ter, wak- -ing spring.
"""

CHOIR = (
    Staff("Soprano", "Soprano", program=53),
    Staff("Alto", "Alto", program=53),
    Staff("Tenor", "Tenor", "G2 8vb", program=53),
    Staff("Bass", "Bass", "F4", program=53),
)

FERRY = {
    "Violin 1": """
!mf F#5 h( E5 q) | D5 h( B4 q) | C#5 q D5 q E5 q | F#5 h. |
F#5 q( E5 q D5 q) | B4 h D5 q | C#5 h( B4 q) | A4 h. |
[A] !p B4 h. | A4 h. | C#5 h. | D5 h. |
B4 q' B4 q' B4 q' | A4 q' A4 q' A4 q' | C#5 h B4 q | C#5 h. |
[B] !f F#5 h( E5 q) | D5 h( B4 q) | C#5 q D5 q E5 q | F#5 h. |
G5 e F#5 e E5 e D5 e E5 q | C#5 e D5 e E5 q C#5 q | D5 h. | D5 h. |
""",
    "Violin 2": """
!mf D5 h( C#5 q) | B4 h( G4 q) | A4 q B4 q C#5 q | D5 h. |
D5 q( C#5 q B4 q) | G4 h B4 q | A4 h( G4 q) | E4 h. |
!p r q G4 q' G4 q' | r q F#4 q' F#4 q' | r q E4 q' E4 q' | r q F#4 q' F#4 q' |
r q G4 q' G4 q' | r q F#4 q' F#4 q' | E4 h E4 q | E4 h. |
!f D5 h( C#5 q) | B4 h( G4 q) | A4 q B4 q C#5 q | D5 h. |
B4 e A4 e G4 q G4 q | A4 e B4 e C#5 q A4 q | F#4 h. | A4 h. |
""",
    "Viola": """
!mf A3 h A3 q | G3 h B3 q | A3 h G3 q | F#3 h. | B3 h( F#3 q) | G3 h G3 q | A3 h( G3 q) | C#4 h. |
!p r q B3 q' B3 q' | r q A3 q' A3 q' | r q C#4 q' C#4 q' | r q A3 q' A3 q' |
r q B3 q' B3 q' | r q A3 q' A3 q' | A3 h G3 q | A3 h. |
!f A3 h A3 q | G3 h B3 q | A3 h G3 q | F#3 h. | D4 q D4 q D4 q | C#4 h G3 q | A3 h. | F#3 h. |
""",
    "Cello": """
!mf D3 h A2 q | G2 h G2 q | A2 h A2 q | D3 h. | B2 h B2 q | G2 h B2 q | A2 h A2 q | A2 h. |
!f G3 q( A3 q B3 q) | A3 h F#3 q | E3 q( F#3 q G3 q) | F#3 h. |
G3 q( A3 q B3 q) | A3 q( F#3 q D3 q) | E3 h F#3 q | E3 h. |
!f D3 h A2 q | G2 h G2 q | A2 h A2 q | D3 h. | G2 q A2 q B2 q | A2 h A2 q | D3 h A2 q | D3 h. |
""",
    "Double bass": """
!mf D2 h. | G1 h. | A1 h. | D2 h. | B1 h. | G1 h B1 q | A1 h. | A1 h. |
!p G1 q' r h | D2 q' r h | A1 q' r h | D2 q' r h | G1 q' r h | D2 q' r h | A1 h A1 q | A1 h. |
!f D2 h. | G1 h. | A1 h. | D2 h. | G1 q A1 q B1 q | A1 h A1 q | D2 h A1 q | D2 h. |
""",
}

STRINGS = (
    Staff("Violin 1", "Violin", program=41),
    Staff("Violin 2", "Violin", program=41),
    Staff("Viola", "Viola", "C3", program=42),
    Staff("Cello", "Cello", "F4", program=43),
    Staff("Double bass", "Double bass", "F4", 0, 0, -1, program=44),
)

DRUM_PROGRAMS = {"Snare drum": 39, "Bass drum": 36, "Crash cymbals": 50}


def drum(name: str) -> Staff:
    """The staff of one drum."""
    return Staff(name, name, drum=True, program=DRUM_PROGRAMS[name])


def pieces() -> dict[str, Piece]:
    """File name -> piece, in the order of the folder."""
    tune = parse_line(LANTERN_WALK)
    band = tuple(
        (staff, shift(tune, octaves=octaves, scale_steps=steps, fifths=-2), ())
        for staff, octaves, steps in BAND
    )
    drums = tuple((drum(name), parse_line(line), ()) for name, line in LANTERN_DRUMS.items())
    choir = tuple(
        (staff, parse_line(RIVER[staff.name]), tuple(RIVER_TEXT.split())) for staff in CHOIR
    )
    strings = tuple((staff, parse_line(FERRY[staff.name]), ()) for staff in STRINGS)
    return {
        "lantern_walk.musicxml": Piece("Lantern Walk", BY, -2, 4, 92, band + drums),
        "paper_parade.musicxml": Piece(
            "Paper Parade", BY, 0, 4, 88, ((drum("Snare drum"), parse_line(PAPER_PARADE), ()),)
        ),
        "river_under_snow.musicxml": Piece("River Under Snow", BY, -1, 4, 76, choir),
        "ferry_at_dusk.musicxml": Piece("Ferry at Dusk", BY, 2, 3, 108, strings),
    }


if __name__ == "__main__":
    for file_name, piece in pieces().items():
        (HERE / "music" / file_name).write_bytes(write(piece))
