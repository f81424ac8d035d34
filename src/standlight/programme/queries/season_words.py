"""Codes of the year plan in a director's words: what an item is, why there, what gave way."""

from __future__ import annotations

from collections.abc import Callable
from math import ceil

from standlight.planning import Fault, Item, Note, Option, Overload, Week
from standlight.programme.dates import date_words

ITEM_NAMES = {
    "study": "Score study",
    "early_check": "Check, early",
    "late_check": "Check before the concert",
    "check_in": "Skill check-in",
    "acts": "Ensemble acts",
    "remark": "Rehearsal remark",
    "map": "Listening map",
    "adjudication": "Adjudication",
    "reflection": "Concert reflection",
    "note": "Background note",
    "music": "Music and me",
    "finds": "Finds",
    "anchor": "Growth check",
    "year": "Year reflection",
}
"""Holding to what its items are called in the plan."""

HOLDING_WORDS = {
    "study": ("Score study", "in each cycle, in its first weeks"),
    "early_check": ("Playing check, early", "in each cycle, after the score study"),
    "late_check": ("Playing check before the concert", "in each cycle, about two weeks before"),
    "check_in": ("Check-in of the skill project", "weeks of each cycle; two to four is usual"),
    "acts": ("Ensemble acts", "in each cycle, at least three weeks apart"),
    "remark": ("Rehearsal remark", "weeks of each cycle"),
    "map": ("Listening map", "in each cycle, in its middle"),
    "adjudication": ("Adjudication", "in each cycle, after the listening map"),
    "reflection": ("Concert reflection", "in each cycle, within three days after the concert"),
    "note": ("Background note", "in the year, at least eight weeks apart"),
    "music": ("Music and me", "in the year, at least eight weeks apart"),
    "finds": ("Finds", "in each marking period"),
    "anchor": ("Growth check", "in the year: the same passage, sixty days apart or more"),
    "year": ("Year reflection", "in the year, before the last week"),
}
"""Holding to its name and what its number counts, on the form."""

WHEN_WORDS = {
    "early": "It comes in the first weeks of the cycle.",
    "before_concert": "It comes about two weeks before the concert: there is time to act on it.",
    "spread": "It is spread evenly.",
    "middle": "It comes in the middle of the cycle.",
    "late": "It comes in the second half of the cycle.",
    "after_concert": "It is due within three days after the concert, or on the next school day.",
    "anchor": "The same passage is played early in the year and again sixty days later or more, "
    "so that growth can be seen.",
    "before_last": "It looks back before the very last week.",
}
"""Why an item is where it is."""

LONGEST_IN_MINUTES = 90
"""From here on a time is told in hours: our choice."""

Names = Callable[[str], str]
"""From an item's key to its name."""


def item_name(item: Item) -> str:
    """The name of an item, with its number where there are several."""
    name = ITEM_NAMES.get(item.holding, item.kind.replace("_", " ").capitalize())
    if item.when == "anchor":
        return f"{name}, {'first' if item.number == 1 else 'again'}"
    return f"{name} {item.number}" if item.of > 1 else name


def week_words(week: Week) -> str:
    """A week as people name it.

    >>> from datetime import date
    >>> week_words(Week(14, date(2026, 11, 30), (), True, 0))[:7]
    'week 14'
    """
    return f"week {week.number}, {date_words(week.monday)}"


def first_up(words: str) -> str:
    """Words that begin a sentence or a line: the first letter large, the rest as it is.

    >>> first_up("week 7, Oct 19")
    'Week 7, Oct 19'
    """
    return words[:1].upper() + words[1:]


def time_words(minutes: int) -> str:
    """How long something takes, as people say it.

    >>> time_words(7), time_words(1), time_words(150)
    ('7 minutes', '1 minute', '2.5 hours')
    """
    if minutes < LONGEST_IN_MINUTES:
        return "1 minute" if minutes == 1 else f"{minutes} minutes"
    return hours_words(minutes)


def hours(minutes: float) -> str:
    """Minutes as hours to a tenth, up so that nothing looks as if it fitted.

    >>> hours(390), hours(300), hours(301), hours(0)
    ('6.5', '5', '5.1', '0')
    """
    return f"{ceil(minutes / 6 - 1e-9) / 10:g}"


def hours_words(minutes: float) -> str:
    """Hours with their word.

    >>> hours_words(60), hours_words(90)
    ('1 hour', '1.5 hours')
    """
    said = hours(minutes)
    return f"{said} hour{'' if said == '1' else 's'}"


def _weeks(n: int) -> str:
    return "a week" if n == 1 else f"{n} weeks"


def note_words(note: Note, name: Names) -> str:
    """What gave way at an item, as a sentence."""
    other = name(note.other) if note.other else ""
    return {
        "moved": lambda: f"It was in the week of {date_words(note.was)} before.",
        "outside": lambda: f"It is {_weeks(note.weeks)} away from where it would best be.",
        "too_near": lambda: f"It is {_weeks(note.weeks)} too soon after {other}.",
        "too_late": lambda: f"It is {_weeks(note.weeks)} later after {other} than it should be.",
        "pin_closed": lambda: "It was kept in a week that takes no work now, so it was moved.",
        "unplaced": lambda: "No week is left for it: every week it could have is closed.",
        "closed_now": lambda: "No work can be due in its week any more. Draw the plan up again.",
        "quiet": lambda: "It is new work in the week of a concert or festival.",
        "waiting": lambda: "It has no week yet. Draw the plan up again.",
        "gone": lambda: "Its best weeks had gone by.",
    }[note.code]()


def overload_words(one: Overload, weeks: tuple[Week, ...]) -> str:
    """How much a week needs and has, and whether any plan could avoid it."""
    if one.first == one.last:
        said = (f"{first_up(week_words(weeks[one.first]))} needs {hours_words(one.needed)} of "
                f"your {hours(one.available)}.")  # fmt: skip
    else:
        said = (f"Weeks {weeks[one.first].number} to {weeks[one.last].number} together need "
                f"{hours_words(one.needed)} of your {hours(one.available)}.")  # fmt: skip
    if one.unavoidable:
        said += " What must be due then is already more, so no other order helps by itself."
    return said


def option_words(option: Option, name: Names, weeks: tuple[Week, ...]) -> str:
    """One way out of a week with too many hours, computed."""
    what = name(option.item)
    left = f"then the week needs {hours_words(option.minutes)}"
    if not option.enough:
        left += ", which is still too much"
    if option.code == "move" and option.to_week is not None:
        to = weeks[option.to_week]
        there = f"{hours(option.minutes_there)} of {hours_words(to.review_minutes)} there"
        return f"Move {what} to {week_words(to)} ({there}): {left}."
    if option.code == "shorten":
        each = f"{seconds(option.each_to)} for each musician, not {seconds(option.each_from)}"
        return f"Shorten {what}: {each}; {left}."
    return f"Rate {what} by draw: {option.n} of {option.of} musicians; {left}."


def seconds(minutes: float) -> str:
    """Minutes for one musician as people say them.

    >>> seconds(0.75), seconds(1.25), seconds(2.0), seconds(1.0)
    ('45 seconds', '1 minute 15 seconds', '2 minutes', '1 minute')
    """
    whole, rest = divmod(round(minutes * 60), 60)
    parts = []
    if whole:
        parts.append(f"{whole} minute{'s' if whole > 1 else ''}")
    if rest or not whole:
        parts.append(f"{rest} seconds")
    return " ".join(parts)


def fault_words(fault: Fault, group: str, cycle: str, other: str) -> str:
    """What is wrong with the calendar and the nearest fix, as a sentence or two."""
    day = date_words(fault.day, "weekday")
    where = f"{group}, {cycle}"
    return {
        "no_date": lambda: f"{where}: there is no concert day. {day} would do.",
        "before_start": lambda: f"{where}: the concert comes before the first rehearsal. "
        f"Begin the cycle on {day}, or move the concert.",
        "overlap": lambda: f"{where} begins before the concert of {other}. "
        f"Let it begin on {day}.",
        "out_of_year": lambda: f"{where}: the concert is outside of the school year. "
        f"{day} is the nearest school day; or change the year’s last day.",
        "closed_concert": lambda: f"{where}: there is no school on the concert day. "
        f"The nearest school day is {day}.",
        "no_hours": lambda: "You have no hours a week for hearing and reading. What is planned "
        f"needs about {hours_words(fault.minutes)} in each week.",
        "no_weeks": lambda: "No week of this year takes work. Take out a closed day, or make the "
        "year longer.",
        "no_cycle": lambda: f"{group} has no concert cycle in this year, so only what runs across "
        "the year is planned for it.",
        "short": lambda: f"{where} is only {_weeks(fault.weeks)} long: two checks hardly fit.",
        "nobody": lambda: f"{group} has no musicians yet, so its work takes none of your time.",
    }[fault.code]()
