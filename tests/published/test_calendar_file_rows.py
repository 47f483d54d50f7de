"""Calendar files: rows X01, X03 and X04 of the table of checks.

X01: RFC 5545, 3.8.5.3 ("Weekly for 10 occurrences"), read by the libraries that we rely on. X03: RFC 5546, 2.1.4 and
3.2.5 (section numbers from memory). X04: RFC 5545, 3.1.
"""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from dateutil.rrule import rrulestr
from icalendar import Calendar

from caseload.exchange.icalendar import Event, calendar_file

NEW_YORK = ZoneInfo("America/New_York")
WEEKLY = b"""BEGIN:VCALENDAR\r
BEGIN:VEVENT\r
DTSTART;TZID=America/New_York:19970902T090000\r
RRULE:FREQ=WEEKLY;COUNT=10\r
END:VEVENT\r
END:VCALENDAR\r
"""
BOOKED = Event(
    uid="visit-17@example.org",
    sequence=0,
    starts_at=datetime(2026, 4, 1, 8, 20, tzinfo=UTC),
    ends_at=datetime(2026, 4, 1, 8, 40, tzinfo=UTC),
    changed_at=datetime(2026, 3, 23, 11, 5, tzinfo=UTC),
    cancelled=False,
    summary="Stitches out",
)


def test_x01_a_weekly_rule_keeps_its_clock_time_over_the_change_of_clocks() -> None:
    (event,) = Calendar.from_ical(WEEKLY).events
    days = list(rrulestr(event["rrule"].to_ical().decode(), dtstart=event.start))
    assert (len(days), days[-1]) == (10, datetime(1997, 11, 4, 9, tzinfo=NEW_YORK))
    assert {day.hour for day in days} == {9}
    assert days[-1].utcoffset() != days[0].utcoffset()


def test_x03_a_visit_moved_and_then_cancelled_is_the_same_visit_each_time_one_further_on() -> None:
    moved = BOOKED._replace(
        sequence=1, starts_at=BOOKED.starts_at + timedelta(days=1), ends_at=BOOKED.ends_at + timedelta(days=1)
    )
    gone = moved._replace(sequence=2, cancelled=True)
    read = [
        Calendar.from_ical(calendar_file([event], name="Fernhollow", method=method))
        for event, method in ((BOOKED, "REQUEST"), (moved, "REQUEST"), (gone, "CANCEL"))
    ]
    events = [calendar.events[0] for calendar in read]
    assert [event["sequence"] for event in events] == [0, 1, 2]
    assert {event["uid"] for event in events} == {"visit-17@example.org"}
    assert [calendar["method"] for calendar in read] == ["REQUEST", "REQUEST", "CANCEL"]
    assert [event["status"] for event in events] == ["CONFIRMED", "CONFIRMED", "CANCELLED"]


def test_x04_and_e4_a_summary_of_100_characters_is_folded() -> None:
    for letter in "xé€":
        data = calendar_file([BOOKED._replace(summary=letter * 100)], name="Fernhollow")
        lines = data.split(b"\r\n")
        assert max(len(line) for line in lines) <= 75
        assert lines[-1] == b"" and not any(b"\n" in line or b"\r" in line for line in lines)
        assert Calendar.from_ical(data).events[0]["summary"] == letter * 100
        assert data.decode().replace("\r\n ", "").count(f"SUMMARY:{letter * 100}\r\n") == 1
