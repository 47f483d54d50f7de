"""Appointments as calendar files (RFC 5545): read back whole, safe in their texts, and nothing added."""

from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from icalendar import Calendar

from caseload.exchange.icalendar import Event, calendar_file

AT = datetime(2026, 4, 2, 8, 20, tzinfo=UTC)
EVENT = Event(
    uid="visit-17@example.org",
    sequence=0,
    starts_at=AT,
    ends_at=AT + timedelta(minutes=20),
    changed_at=datetime(2026, 3, 23, 11, 5, 7, tzinfo=UTC),
    cancelled=False,
    summary="Stitches out",
    location="Quay Street",
)
WHOLE = """\
BEGIN:VCALENDAR
VERSION:2.0
PRODID:-//Caseload planner//EN
METHOD:PUBLISH
NAME:Fernhollow
X-WR-CALNAME:Fernhollow
BEGIN:VEVENT
SUMMARY:Stitches out
DTSTART:20260402T082000Z
DTEND:20260402T084000Z
DTSTAMP:20260323T110507Z
UID:visit-17@example.org
SEQUENCE:0
CLASS:PRIVATE
LAST-MODIFIED:20260323T110507Z
LOCATION:Quay Street
STATUS:CONFIRMED
TRANSP:OPAQUE
END:VEVENT
END:VCALENDAR
"""


def written(*events, **kwargs):
    return calendar_file(events, name="Fernhollow", **kwargs)


def read(data):
    return Calendar.from_ical(data).events


def test_a_file_holds_what_it_was_given_and_nothing_else():
    assert written(EVENT).decode() == WHOLE.replace("\n", "\r\n")


def test_the_same_events_give_the_same_bytes():
    assert written(EVENT, EVENT._replace(uid="b")) == written(EVENT, EVENT._replace(uid="b"))


def test_a_cancelled_visit_is_kept_and_takes_no_time():
    stands, gone = read(written(EVENT, EVENT._replace(uid="b", sequence=1, cancelled=True)))
    assert (stands["status"], stands["transp"]) == ("CONFIRMED", "OPAQUE")
    assert (gone["status"], gone["transp"], gone["uid"], gone["sequence"]) == ("CANCELLED", "TRANSPARENT", "b", 1)


def test_a_place_that_is_not_known_is_not_written():
    assert b"LOCATION" not in written(EVENT._replace(location=""))


def test_a_calendar_without_visits_is_still_one():
    assert read(written()) == [] and written().startswith(b"BEGIN:VCALENDAR\r\n")


@pytest.mark.parametrize("zone", [ZoneInfo("Europe/London"), timezone(timedelta(hours=-5))])
def test_a_time_of_any_zone_is_written_as_the_instant_it_is(zone):
    assert written(EVENT._replace(starts_at=AT.astimezone(zone))) == written(EVENT)


def test_both_passes_of_an_hour_that_comes_twice_stay_apart():
    first, second = (datetime(2026, 10, 25, 1, 30, fold=fold, tzinfo=ZoneInfo("Europe/London")) for fold in (0, 1))
    data = written(*(EVENT._replace(starts_at=at, ends_at=at.astimezone(UTC) + timedelta(1)) for at in (first, second)))
    assert b"DTSTART:20261025T003000Z" in data and b"DTSTART:20261025T013000Z" in data


@pytest.mark.parametrize("field", ["starts_at", "ends_at", "changed_at"])
def test_a_time_without_a_zone_is_never_guessed(field):
    with pytest.raises(ValueError, match="no zone"):
        written(EVENT._replace(**{field: datetime(2026, 4, 2, 9, 20)}))


@pytest.mark.parametrize("minutes", [0, -20])
def test_a_visit_ends_after_it_starts(minutes):
    with pytest.raises(ValueError, match="end after"):
        written(EVENT._replace(ends_at=AT + timedelta(minutes=minutes)))


def test_a_file_that_cancels_takes_no_visit_that_stands():
    with pytest.raises(ValueError, match="stands"):
        written(EVENT, method="CANCEL")


def test_umlauts_commas_semicolons_and_line_breaks_are_written_as_the_standard_says():
    data = calendar_file([EVENT._replace(summary="Prüfung, Hand; C:\\x\nzwei")], name="Zoë, Quay Street")
    assert "SUMMARY:Prüfung\\, Hand\\; C:\\\\x\\nzwei\r\n".encode() in data
    assert "\r\nNAME:Zoë\\, Quay Street\r\nX-WR-CALNAME:Zoë\\, Quay Street\r\n".encode() in data


@pytest.mark.parametrize("broken", ["a\r\nATTENDEE:mailto:x@example.org", "a\nATTENDEE:x", "a\rATTENDEE:x"])
@pytest.mark.parametrize("field", ["uid", "summary", "location"])
def test_no_text_can_add_a_line_of_its_own(field, broken):
    (event,) = read(written(EVENT._replace(**{field: broken})))
    assert "ATTENDEE" not in event and str(event[field]) == broken.replace("\r\n", "\n").replace("\r", "\n")
    assert b"\nATTENDEE" not in calendar_file([EVENT], name=broken)


# The library takes a backslash before a capital N for a line break, so that pair is left out.
TEXT = st.text(st.characters(codec="utf-8", exclude_characters="\r"), max_size=90).filter(
    lambda text: "\\N" not in text
)
TIMES = st.datetimes(datetime(2000, 1, 1), datetime(2099, 1, 1), timezones=st.just(UTC)).map(
    lambda at: at.replace(microsecond=0)
)


@settings(max_examples=60, deadline=None)
@given(summary=TEXT, location=TEXT, at=TIMES, sequence=st.integers(0, 99), cancelled=st.booleans())
@example(summary="é" * 90, location=" x", at=AT, sequence=0, cancelled=False)
def test_any_visit_reads_back_and_is_written_again_the_same(summary, location, at, sequence, cancelled):
    visit = Event("u", sequence, at, at + timedelta(minutes=20), at, cancelled, summary, location)
    data = written(visit)
    calendar = Calendar.from_ical(data)
    (event,) = calendar.events
    assert calendar.to_ical() == data
    assert (str(event["summary"]), str(event.get("location", ""))) == (summary, location)
    assert (event.start, event.end, event["sequence"]) == (visit.starts_at, visit.ends_at, sequence)
    assert all(len(line) <= 75 for line in data.split(b"\r\n"))
