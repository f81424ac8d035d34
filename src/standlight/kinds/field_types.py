"""Types of questions: what settings each takes, what an answer must be, how it reads as text.

An answer is plain data (text, numbers, lists and dicts), as a form or a scanned page gives it
and as it is kept. A type never stores or shows; it says what is wrong in words for a musician.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from uuid import UUID

from standlight.kinds.values import Field
from standlight.kinds.word_counts import words_in

MOST_CHARACTERS = 20_000
"""Longest text that is kept in one answer (about 3,500 words; a pasted book is none)."""

LATEST_MEASURE, LONGEST_CLOCK_S = 9_999, 6 * 3600.0
MOST_ROWS = 200
"""More rows than any musician writes by hand (our choice)."""

PIN_PARTS, CLOCK_PARTS = ("measure", "words"), ("at_s", "words")
PLACE_PARTS = ("piece", "from_measure", "to_measure")
TRY = "try"
"""The column of a spot that reads as a plan: “I will try: ...”."""
SOURCE_PARTS = ("kind", "author", "title", "where", "seen")
SOURCE_KINDS = {"primary": "primary source", "secondary": "secondary source"}

_BROKEN = re.compile("[\x00\ud800-\udfff]")
"""A null, or half a character pair: no store and no printed page can hold them."""

Problems = tuple[str, ...]
Answer = object


@dataclass(frozen=True, slots=True)
class FieldType:
    """One type: ``name`` for who edits a kind, ``settings`` that it must or may have.

    ``counts`` names what ``least`` and ``most`` count, "" where they mean nothing; ``check``
    gives what is wrong with an answer that is there; ``text`` gives it as plain words; ``gather``
    is a key of ``GATHERS``. ``inside`` are the types that its columns may have, ``columns`` those
    that a question has when its definition names none (see `columns_of`); ``parts`` are names in
    its answer that no column may take. ``fewest`` is how many options a definition must give,
    ``known`` the only keys they may have (none: any).
    """

    name: str
    counts: str
    settings: frozenset[str]
    gather: str
    check: Callable[[Field, Answer], Problems]
    text: Callable[[Field, Answer], str]
    inside: frozenset[str] = frozenset()
    columns: tuple[Field, ...] = ()
    parts: tuple[str, ...] = ()
    fewest: int = 0
    known: tuple[str, ...] = ()


GATHERS = {
    "words": "side by side",
    "counts": "how many gave each answer",
    "measures": "in the order of the measures",
    "clock": "in the order of the clock",
    "rows": "row by row",
    "sources": "as a list of sources",
    "none": "one by one",
}
"""How all answers to one question are laid together for a director, in their words."""


def is_blank(answer: Answer) -> bool:
    """True for nothing at all: None, empty text, empty list, a dict of such; never for zero.

    >>> is_blank({"what": " ", "rows": []}), is_blank(0), is_blank(False)
    (True, False, True)
    """
    if isinstance(answer, dict):
        return all(is_blank(part) for part in answer.values())
    if isinstance(answer, list | tuple):
        return all(is_blank(part) for part in answer)
    return answer is None or answer is False or (isinstance(answer, str) and not answer.strip())


def problems_with(field: Field, answer: Answer) -> Problems:
    """What is wrong with an answer to ``field``, in sentences; none when it is blank or right."""
    return () if is_blank(answer) else FIELD_TYPES[field.type].check(field, answer)


def text_of(field: Field, answer: Answer) -> str:
    """The answer as plain words for the Desk, the printed page and a search; "" when blank."""
    return "" if is_blank(answer) else FIELD_TYPES[field.type].text(field, answer)


def columns_of(field: Field) -> tuple[Field, ...]:
    """The questions inside ``field``: its own columns, or those that its type has by itself.

    >>> [column.key for column in columns_of(Field("where", "spot", "Where?"))]
    ['what', 'try']
    """
    return field.columns or FIELD_TYPES[field.type].columns


def _between(count: int, field: Field, what: str) -> Problems:
    """Too few or too many, in words."""
    if field.least is not None and count < field.least:
        return (f"Please give at least {field.least} {what} (there {_are(count)} {count}).",)
    if field.most is not None and count > field.most:
        return (f"Please keep to {field.most} {what} at most (there {_are(count)} {count}).",)
    return ()


def _are(count: int) -> str:
    """The verb for a count."""
    return "is" if count == 1 else "are"


def _check_text(field: Field, answer: Answer) -> Problems:
    """Text within its number of words, or the same spoken (an accommodation the shell grants)."""
    if isinstance(answer, dict):
        return _check_sound(field, answer)
    if not isinstance(answer, str):
        return ("This answer is no text.",)
    return _check_characters(answer) or _between(words_in(answer), field, "words")


def _check_characters(text: str) -> Problems:
    """Text that is short enough to keep and has no broken character in it."""
    if len(text) > MOST_CHARACTERS:
        return (
            f"This text is too long to keep ({len(text):,} characters; "
            f"{MOST_CHARACTERS:,} fit): shorten it, or hand it in on paper.",
        )
    broken = _BROKEN.search(text)
    if broken:
        place = broken.start() + 1
        return (f"Character {place} of this text is broken (a slip in copying?): delete it.",)
    return ()


def _text(field: Field, answer: Answer) -> str:
    """Text as it is, without spaces around it; a spoken answer is only named."""
    return "a spoken answer" if isinstance(answer, dict) else str(answer).strip()


def _check_parts(answer: dict, parts: tuple[str, ...], what: str) -> Problems:
    """A set of known parts, of which those that are texts can be kept."""
    if not set(answer) <= set(parts):
        return (f"This answer is no {what}.",)
    texts = [part for part in answer.values() if isinstance(part, str)]
    if any(isinstance(part, dict | list) for part in answer.values()):
        return (f"This answer is no {what}.",)
    return next(filter(None, map(_check_characters, texts)), ())


def _check_choice(field: Field, answer: Answer) -> Problems:
    """One of the options."""
    known = [option.key for option in field.options]
    return () if answer in known else ("Please choose one of the answers shown.",)


def _choice_text(field: Field, answer: Answer) -> str:
    """The chosen option's label."""
    return {option.key: option.label for option in field.options}.get(str(answer), "")


def _check_several(field: Field, answer: Answer) -> Problems:
    """Some of the options, each once."""
    known = {option.key for option in field.options}
    if not isinstance(answer, list) or not all(isinstance(one, str) for one in answer):
        return ("Please choose from the answers shown.",)
    if not set(answer) <= known or len(set(answer)) < len(answer):
        return ("Please choose from the answers shown, each once.",)
    return _between(len(answer), field, "answers")


def _several_text(field: Field, answer: Answer) -> str:
    """The chosen labels in the order of the options."""
    chosen = set(answer) if isinstance(answer, list) else set()
    return "; ".join(option.label for option in field.options if option.key in chosen)


def _check_scale(field: Field, answer: Answer) -> Problems:
    """A whole step between the ends."""
    low, high = field.least or 0, field.most or 0
    if not _whole(answer) or not low <= answer <= high:
        return (f"Please choose a step from {low} to {high}.",)
    return ()


def _scale_text(field: Field, answer: Answer) -> str:
    """The step and the ends' own words."""
    steps = (field.least, field.most)
    ends = ", ".join(f"{step} {end.label}" for step, end in zip(steps, field.options, strict=False))
    return f"{answer} of {field.most}" + (f" ({ends})" if ends else "")


def _check_rows(field: Field, answer: Answer) -> Problems:
    """A list of rows, each right by its columns."""
    if not isinstance(answer, list) or not all(isinstance(row, dict) for row in answer):
        return ("This answer is no list.",)
    rows = [row for row in answer if not is_blank(row)]
    if len(rows) > MOST_ROWS:
        return (f"This list is too long to keep ({len(rows)} rows; {MOST_ROWS} fit).",)
    found = list(_between(len(rows), field, "rows"))
    for number, row in enumerate(rows, start=1):
        found += [f"Row {number}: {problem}" for problem in _column_problems(field, row)]
    return tuple(found)


def _column_problems(field: Field, row: dict) -> Iterator[str]:
    """What is open or wrong in one row, or in the questions at one spot."""
    for column in columns_of(field):
        value = row.get(column.key)
        if column.required and is_blank(value):
            yield f"“{column.prompt}” is empty."
        yield from problems_with(column, value)


def _rows_text(field: Field, answer: Answer) -> str:
    """One line a row."""
    rows = answer if isinstance(answer, list) else []
    lines = (
        ", ".join(filter(None, (text_of(column, row.get(column.key)) for column in field.columns)))
        for row in rows
    )
    return "\n".join(line for line in lines if line)


def _check_measure(field: Field, answer: Answer) -> Problems:
    """A measure of the musician's own part, with a word about it."""
    if not isinstance(answer, dict) or not _whole(answer.get("measure")):
        return ("Please say which measure.",)
    place = "place in the music"
    return _measure_problem(answer["measure"]) or _check_parts(answer, PIN_PARTS, place)


def _measure_problem(measure: int) -> Problems:
    """A number that no printed measure has."""
    if 1 <= measure <= LATEST_MEASURE:
        return ()
    return (f"Measure {measure} cannot be: printed measures count from 1 (a typing slip?).",)


def _measure_text(field: Field, answer: Answer) -> str:
    """Measure and words."""
    return _joined(f"measure {answer['measure']}", answer.get("words"))


def _check_clock(field: Field, answer: Answer) -> Problems:
    """A moment of a recording, seconds from its start, with a word about it."""
    at_s = answer.get("at_s") if isinstance(answer, dict) else None
    if not isinstance(at_s, int | float) or isinstance(at_s, bool):
        return ("Please say at what time.",)
    if not 0.0 <= at_s <= LONGEST_CLOCK_S:
        return ("This time lies outside the recording.",)
    return _check_parts(answer, CLOCK_PARTS, "moment of a recording")


def _clock_text(field: Field, answer: Answer) -> str:
    """Minutes, seconds and words."""
    minutes, seconds = divmod(int(answer["at_s"]), 60)
    return _joined(f"{minutes}:{seconds:02d}", answer.get("words"))


def _check_spot(field: Field, answer: Answer) -> Problems:
    """A spot on the musician's own part: where, and the questions that are asked there."""
    keys = {column.key for column in columns_of(field)}
    if not isinstance(answer, dict) or not set(answer) <= {*PLACE_PARTS, *keys}:
        return ("This answer is no spot in the music.",)
    first, last = answer.get("from_measure"), answer.get("to_measure")
    if not _whole(first):
        return ("Please say which measure.",)
    place = {part: answer[part] for part in PLACE_PARTS if part in answer}
    found = _measure_problem(first) + _check_parts(place, PLACE_PARTS, "spot in the music")
    if not is_blank(last) and (not _whole(last) or not first <= last <= LATEST_MEASURE):
        found += (f"The last measure cannot come before measure {first}, or after all music.",)
    return found + tuple(_column_problems(field, answer))


def _spot_text(field: Field, answer: Answer) -> str:
    """Piece and measures, then what is said of them; what is under “try” reads as a plan."""
    first, last = answer["from_measure"], answer.get("to_measure")
    span = f"measure {first}" if last in (None, "", first) else f"measures {first} to {last}"
    where = _joined(answer.get("piece"), span, mark=", ")
    return _joined(where, spot_words(field, answer))


def spot_words(field: Field, answer: dict) -> str:
    """What an answer says of its spot, without the place; "" for nothing."""
    said = ""
    for column in columns_of(field):
        words = text_of(column, answer.get(column.key))
        words = f"I will try: {words}" if words and column.key == TRY else words
        stop = " " if said.endswith((".", "!", "?", "…")) else ". "
        said = _joined(said, words, mark=stop)
    return said


def _check_source(field: Field, answer: Answer) -> Problems:
    """A source that somebody else could find again; it is checked for completeness, not fetched."""
    if not isinstance(answer, dict) or answer.get("kind") not in list(SOURCE_KINDS):
        return ("Please say whether this is a primary or a secondary source.",)
    allowed = [option.key for option in field.options] or list(SOURCE_KINDS)
    if answer["kind"] not in allowed:
        return (f"Here a {' or a '.join(SOURCE_KINDS[kind] for kind in allowed)} is asked for.",)
    wanted = {"author": "who made it", "title": "its title", "where": "where you found it"}
    lacking = [words for part, words in wanted.items() if is_blank(answer.get(part))]
    found = (f"Please add {' and '.join(lacking)}.",) if lacking else ()
    found += _check_parts(answer, SOURCE_PARTS, "source")
    online = str(answer.get("where", "")).startswith(("http://", "https://", "www."))
    if online and is_blank(answer.get("seen")):
        found += ("Please add the date when you saw this page.",)
    return found


def _source_text(field: Field, answer: Answer) -> str:
    """Author, title, where, seen, and which kind of source."""
    seen = f"seen {answer['seen']}" if answer.get("seen") else ""
    parts = (answer.get("author"), answer.get("title"), answer.get("where"), seen)
    return ", ".join(str(part) for part in parts if part) + f" ({SOURCE_KINDS[answer['kind']]})"


def _check_sound(field: Field, answer: Answer) -> Problems:
    """The key of a kept sound, as the receipt of its upload spells it."""
    key = answer.get("sound") if isinstance(answer, dict) and set(answer) == {"sound"} else None
    return () if _is_uuid(key) else ("This recording did not arrive: please send it again.",)


def _is_uuid(value: Answer) -> bool:
    """True for a UUID in its one usual spelling: 36 characters, small letters."""
    try:
        return isinstance(value, str) and str(UUID(value)) == value
    except ValueError:
        return False


def _check_consent(field: Field, answer: Answer) -> Problems:
    """Yes or no, said by the musician."""
    return () if isinstance(answer, bool) else ("Please say yes or no.",)


def _whole(value: Answer) -> bool:
    """True for a whole number that is no truth value."""
    return isinstance(value, int) and not isinstance(value, bool)


def _joined(first: Answer, second: Answer, mark: str = ": ") -> str:
    """Two parts with a mark between, or the one that is there."""
    return mark.join(str(part) for part in (first, second) if not is_blank(part))


_PLAIN = frozenset[str]()
_COUNTED = frozenset({"least", "most"})
_OPTIONS = frozenset({"options"})
_COLUMNS = frozenset({"columns"})
_SIMPLE = frozenset({"short", "long", "choice", "several", "levels", "scale"})
_SPOT_COLUMNS = (
    Field("what", "short", "What happened there?"),
    Field(TRY, "short", "What will I try?", required=False),
)
FIELD_TYPES: dict[str, FieldType] = {
    "short": FieldType("short answer", "words", _COUNTED, "words", _check_text, _text),
    "long": FieldType("long answer", "words", _COUNTED, "words", _check_text, _text),
    "choice": FieldType("one of several", "", _OPTIONS, "counts", _check_choice, _choice_text,
                        fewest=2),
    "several": FieldType("several of", "answers", _OPTIONS | _COUNTED, "counts", _check_several,
                         _several_text, fewest=2),
    "levels": FieldType("level row", "", _OPTIONS, "counts", _check_choice, _choice_text,
                        fewest=2),
    "scale": FieldType("scale", "steps", _OPTIONS | _COUNTED, "counts", _check_scale, _scale_text),
    "rows": FieldType("list of rows", "rows", _COUNTED | _COLUMNS, "rows", _check_rows, _rows_text,
                      _SIMPLE | {"recording", "measure", "clock", "spot", "source", "consent"}),
    "recording": FieldType("recording", "", _PLAIN, "none", _check_sound,
                           lambda _f, _a: "a recording"),
    "measure": FieldType("place in my part", "", _PLAIN, "measures", _check_measure,
                         _measure_text),
    "clock": FieldType("moment of a recording", "", _PLAIN, "clock", _check_clock, _clock_text),
    "spot": FieldType("spot, what happened, what I will try", "", _COLUMNS, "measures",
                      _check_spot, _spot_text, _SIMPLE, _SPOT_COLUMNS, PLACE_PARTS),
    "source": FieldType("source", "", _OPTIONS, "sources", _check_source, _source_text,
                        known=tuple(SOURCE_KINDS)),
    "consent": FieldType("permission to share", "", _PLAIN, "none", _check_consent,
                         lambda _f, answer: "may be shared" if answer else "not to be shared"),
}  # fmt: skip
"""Every type of question, by the word that a definition uses."""
