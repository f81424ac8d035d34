"""Days as a calendar file: RFC 5545 (iCalendar), written by hand because so little of it is needed.

All-day events only: no time of day, so no time zone. Lines end in CRLF and are folded at 75 octets
between whole characters (section 3.1); text is escaped (3.3.11); UIDs stay the same from file to
file, so that a calendar that has read an earlier one moves events and doubles none (3.8.4.7).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from standlight.errors import StandlightError

LINE_OCTETS = 75
"""RFC 5545, section 3.1: octets of a line without its end."""


@dataclass(frozen=True, slots=True)
class CalendarDay:
    """One event of whole days: ``uid`` stays with it for ever, ``last`` is within.

    ``sequence`` counts its changes, from 0.
    """

    uid: str
    first: date
    title: str
    words: str = ""
    last: date | None = None
    sequence: int = 0

    def __post_init__(self) -> None:
        """Refuse an event that no calendar can read."""
        if not self.uid or (self.last is not None and self.last < self.first):
            raise StandlightError("an event has a lasting name and ends after it begins")


def calendar_file(
    name: str, days: Sequence[CalendarDay], *, written_at: datetime, maker: str = "Standlight"
) -> bytes:
    """A calendar called ``name`` as the bytes of an .ics file (UTF-8).

    ``written_at`` is an aware moment, told as every event's DTSTAMP. Raises `StandlightError` where
    it is naive, or a UID comes twice.
    """
    if written_at.tzinfo is None:
        raise StandlightError("the moment of writing has no time zone")
    if len({day.uid for day in days}) < len(days):
        raise StandlightError("two events of a calendar have the same lasting name")
    stamp = written_at.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        f"PRODID:-//{maker}//Season//EN",
        "CALSCALE:GREGORIAN",
        f"NAME:{text(name)}",
        f"X-WR-CALNAME:{text(name)}",
    ]
    for day in days:
        lines += _event(day, stamp)
    lines.append("END:VCALENDAR")
    return "".join(f"{fold(line)}\r\n" for line in lines).encode("utf-8")


def _event(day: CalendarDay, stamp: str) -> Iterator[str]:
    """The lines of one event; its end is the day after its last (RFC 5545, 3.6.1)."""
    after = (day.last or day.first) + timedelta(days=1)
    yield "BEGIN:VEVENT"
    yield f"UID:{text(day.uid)}"
    yield f"DTSTAMP:{stamp}"
    yield f"SEQUENCE:{day.sequence}"
    yield f"DTSTART;VALUE=DATE:{day.first:%Y%m%d}"
    yield f"DTEND;VALUE=DATE:{after:%Y%m%d}"
    yield f"SUMMARY:{text(day.title)}"
    if day.words:
        yield f"DESCRIPTION:{text(day.words)}"
    yield "TRANSP:TRANSPARENT"
    yield "END:VEVENT"


def text(words: str) -> str:
    r"""Words as a TEXT value: backslash, semicolon, comma and line ends escaped, controls gone.

    >>> print(text("Check; measures 1, 2\nBring the part"))
    Check\; measures 1\, 2\nBring the part
    """
    plain = words.replace("\r\n", "\n").replace("\r", "\n")
    for sign in ("\\", ";", ","):
        plain = plain.replace(sign, f"\\{sign}")
    plain = plain.replace("\n", "\\n").replace("\t", " ")
    return "".join(sign for sign in plain if ord(sign) >= 32 and ord(sign) != 127)


def fold(line: str) -> str:
    """A line folded at 75 octets, never inside a character; each further one begins with a space.

    >>> [len(part.encode()) for part in fold("SUMMARY:" + "é" * 60).split("\\r\\n")]
    [74, 55]
    """
    parts, octets = [""], 0
    for sign in line:
        size = len(sign.encode("utf-8"))
        if octets + size > LINE_OCTETS:
            parts.append(" ")
            octets = 1
        parts[-1] += sign
        octets += size
    return "\r\n".join(parts)
