"""Calendar files: read back by an independent reader, and held to the letter of RFC 5545."""

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar

from standlight.errors import StandlightError
from standlight.planning.season_ical import CalendarDay, calendar_file, fold

AT = datetime(2026, 11, 26, 15, 5, 30, tzinfo=UTC)


def read(data):
    """The events of a file, by the icalendar package (BSD)."""
    return [part for part in Calendar.from_ical(data).walk() if part.name == "VEVENT"]


def test_an_independent_reader_gets_back_what_was_written():
    days = [
        CalendarDay("7/check@standlight", date(2026, 12, 4), "Playing check; band, “Lantern Walk”",
                    "Measures 33 to 40.\nBring the part, a pencil; no backslash \\ is lost."),
        CalendarDay("7/closed@standlight", date(2026, 12, 21), "Closed", last=date(2027, 1, 1)),
    ]  # fmt: skip
    data = calendar_file("Season of the band", days, written_at=AT)
    calendar = Calendar.from_ical(data)
    assert calendar["VERSION"] == "2.0"
    assert str(calendar["NAME"]) == str(calendar["X-WR-CALNAME"]) == "Season of the band"
    first, second = read(data)
    assert str(first["SUMMARY"]) == days[0].title
    assert str(first["DESCRIPTION"]) == days[0].words
    assert str(first["UID"]) == days[0].uid
    assert first["DTSTART"].dt == date(2026, 12, 4)
    assert first["DTEND"].dt == date(2026, 12, 5)
    assert first["DTSTAMP"].dt == AT
    # DTEND is the day after the last (RFC 5545, 3.6.1).
    assert second["DTEND"].dt == date(2027, 1, 2)
    assert not any(event.errors for event in (first, second))


words = st.text(
    st.characters(blacklist_categories=("Cs", "Cc"), blacklist_characters="\u2028\u2029\x85"),
    min_size=1, max_size=200,
)  # fmt: skip


@given(words, words, st.dates(date(2020, 1, 1), date(2040, 1, 1)), st.integers(0, 30))
def test_any_words_come_back_and_no_line_is_longer_than_75_octets(title, more, first, length):
    day = CalendarDay("x@standlight", first, title, more, last=first + timedelta(days=length))
    data = calendar_file("Season", [day], written_at=AT)
    assert data.endswith(b"END:VCALENDAR\r\n")
    lines = data.split(b"\r\n")
    assert max(map(len, lines)) <= 75
    assert not any(b"\n" in line or b"\r" in line for line in lines)
    for line in lines:
        line.decode("utf-8")
    (event,) = read(data)
    assert str(event["SUMMARY"]) == title
    assert str(event["DESCRIPTION"]) == more


def test_a_fold_never_cuts_a_character():
    line = "SUMMARY:" + "𝄞" * 50
    parts = fold(line).split("\r\n")
    assert parts[0] + "".join(part[1:] for part in parts[1:]) == line
    assert max(len(part.encode()) for part in parts) <= 75
    assert all(part.startswith(" ") for part in parts[1:])


def test_a_naive_moment_and_a_doubled_name_are_refused():
    day = CalendarDay("a", date(2026, 12, 4), "Check")
    with pytest.raises(StandlightError, match="time zone"):
        calendar_file("Season", [day], written_at=datetime(2026, 11, 26))
    with pytest.raises(StandlightError, match="same lasting name"):
        calendar_file("Season", [day, day], written_at=AT)
    with pytest.raises(StandlightError, match="ends after it begins"):
        CalendarDay("b", date(2026, 12, 4), "Check", last=date(2026, 12, 3))
