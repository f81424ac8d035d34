"""Small MusicXML scores written by hand, for tests of one phenomenon each."""


def score_of(measures: str, *, part_list: str = "", head: str = "") -> bytes:
    """A small score of one part from the inside of its measures, one a line."""
    inside = "".join(
        f'<measure number="{number}">{measure}</measure>'
        for number, measure in enumerate(measures.strip().splitlines(), start=1)
    )
    rows = part_list or '<score-part id="P1"><part-name>Flute</part-name></score-part>'
    return (
        f'<score-partwise>{head}<part-list>{rows}</part-list><part id="P1">{inside}</part>'
        "</score-partwise>"
    ).encode()


ATTRIBUTES = (
    "<attributes><divisions>2</divisions><time><beats>4</beats><beat-type>4</beat-type></time>"
    "</attributes>"
)


def note(step: str, octave: int, duration: int, extra: str = "", before: str = "") -> str:
    pitch = f"<pitch><step>{step}</step><octave>{octave}</octave></pitch>"
    return f"<note>{before}{pitch}<duration>{duration}</duration>{extra}</note>"
