"""What a patient is written or rung about an appointment, from when and until when.

Public holidays: https://www.gov.uk/bank-holidays (Good Friday 3 April and Easter Monday 6 April 2026; 25 and, in place
of a Saturday, 28 December 2026; 1 January 2027). Clock changes: https://www.gov.uk/when-do-the-clocks-change (29 March
and 25 October 2026). The two distances and the hours are settings of the service; common practice, from memory.
"""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from hypothesis import example, given
from hypothesis import strategies as some

from caseload.booking.clock import instant_of, local_of
from caseload.booking.notices import Booked, Channel, NoticeKind, Reach, Wanted, in_hours, wanted
from caseload.timetable.calendar import Closed, OpenDays
from tests.timetable.builders import ENGLAND, day, fresh

LONDON = "Europe/London"
NEWS = (NoticeKind.BOOKED, NoticeKind.MOVED, NoticeKind.CANCELLED)
BY_EMAIL, BY_LETTER = Reach(True, True, False), Reach(False, True, False)
RUNG, INTERPRETED = Reach(False, False, False), Reach(True, True, True)


def at(said: str) -> datetime:
    """An instant in universal time: `2026-03-28 18:55`."""
    return datetime.fromisoformat(said).replace(tzinfo=UTC)


def appointment(on: str, changed_at: str = "2026-01-05 10:00", **said: Any) -> Booked:
    """At ten o'clock at a site in London, told when it was booked."""
    known = {"minute": 600, "zone": LONDON, "to_come": True, "cancelled": False, "untold": False, "moved": False}
    return Booked(on=day(on), changed_at=at(changed_at), **(known | said))


def dues(of: Booked, reach: Reach = BY_EMAIL, calendar: OpenDays | None = None) -> list[datetime]:
    return [each.due_at for each in wanted(of, reach, calendar or fresh())]


def news(of: Booked, reach: Reach) -> Wanted | None:
    return next((each for each in wanted(of, reach, fresh()) if each.kind in NEWS), None)


@pytest.mark.parametrize(
    ("on", "week", "days"),
    [
        ("2026-02-17", "2026-02-06 09:00", "2026-02-13 09:00"),
        ("2026-04-09", "2026-03-27 09:00", "2026-04-07 08:00"),  # Easter between, and the clocks went forward
        ("2026-11-02", "2026-10-22 08:00", "2026-10-29 09:00"),  # the clocks went back
        ("2027-01-04", "2026-12-21 09:00", "2026-12-30 09:00"),  # Christmas and the New Year between
    ],
)
def test_reminders_go_out_seven_and_two_open_days_before_at_nine_by_the_clock_of_the_site(on, week, days) -> None:
    assert dues(appointment(on)) == [at(week), at(days)]


def test_a_closure_is_no_open_day() -> None:
    closed = Closed(day("2026-02-12"), day("2026-02-13"), "flood")
    shut = OpenDays(ENGLAND.weekdays, ENGLAND.holidays, ENGLAND.covered_from, ENGLAND.covered_until, (closed,))
    assert dues(appointment("2026-02-17"), calendar=shut) == [at("2026-02-04 09:00"), at("2026-02-11 09:00")]


def test_the_later_reminder_ends_the_earlier_and_the_appointment_the_later() -> None:
    week, days = wanted(appointment("2026-02-17"), BY_EMAIL, fresh())
    assert (week.kind, days.kind) == (NoticeKind.WEEK_BEFORE, NoticeKind.DAYS_BEFORE)
    assert week.until_at == days.due_at and days.until_at == at("2026-02-17 10:00")


@pytest.mark.parametrize(
    ("changed_at", "left"), [("2026-02-06 08:59", 2), ("2026-02-06 09:00", 1), ("2026-02-13 09:00", 0)]
)
def test_a_reminder_whose_hour_had_passed_when_it_was_booked_is_not_wanted(changed_at, left) -> None:
    assert len(dues(appointment("2026-02-17", changed_at))) == left


def test_where_the_holiday_data_begin_too_late_only_what_can_be_counted_is_wanted() -> None:
    late = OpenDays(frozenset(range(5)), {}, day("2026-02-12"), day("2026-12-31"))
    assert dues(appointment("2026-02-17"), calendar=late) == [at("2026-02-13 09:00")]


@pytest.mark.parametrize(
    ("reach", "channel"),
    [(BY_EMAIL, "email"), (BY_LETTER, "call"), (RUNG, "call"), (INTERPRETED, "call")],
    ids=["consent", "postal address only", "neither", "needs an interpreter"],
)
def test_reminders_are_rung_where_no_email_may_be_written(reach, channel) -> None:
    assert {each.channel for each in wanted(appointment("2026-02-17"), reach, fresh())} == {Channel(channel)}


@pytest.mark.parametrize(
    ("said", "kind"),
    [
        ({}, "booked"),
        ({"moved": True}, "moved"),
        ({"to_come": False, "cancelled": True, "moved": True}, "cancelled"),
    ],
)
def test_what_the_patient_does_not_know_yet_is_news_until_it_begins(said, kind) -> None:
    found = news(appointment("2026-02-17", untold=True, **said), BY_EMAIL)
    assert found == Wanted(NoticeKind(kind), Channel.EMAIL, at("2026-01-05 10:11"), at("2026-02-17 10:00"))


def test_what_the_patient_knows_is_no_news_and_what_is_over_is_not_told_at_all() -> None:
    assert news(appointment("2026-02-17"), BY_EMAIL) is None
    assert wanted(appointment("2026-02-17", untold=True, to_come=False), BY_EMAIL, fresh()) == ()
    assert wanted(appointment("2026-02-17", to_come=False, cancelled=True), BY_EMAIL, fresh()) == ()


def test_of_a_cancelled_appointment_nobody_is_reminded() -> None:
    cancelled = appointment("2026-02-17", untold=True, to_come=False, cancelled=True)
    assert [each.kind for each in wanted(cancelled, BY_EMAIL, fresh())] == [NoticeKind.CANCELLED]


@pytest.mark.parametrize(
    ("reach", "channel"), [(BY_EMAIL, "email"), (BY_LETTER, "letter"), (RUNG, None), (INTERPRETED, None)]
)
def test_news_goes_by_email_or_letter_or_stays_on_the_list_of_those_to_be_told(reach, channel) -> None:
    found = news(appointment("2026-02-17", untold=True), reach)
    assert (found and found.channel) == channel


@pytest.mark.parametrize(("changed_at", "in_time"), [("2026-04-01 12:00", True), ("2026-04-02 09:00", False)])
def test_a_letter_needs_three_open_days_before_the_appointment(changed_at, in_time) -> None:
    """On Thursday 9 April the three before are the 8th, the 7th and, with Easter between, the 2nd."""
    assert bool(news(appointment("2026-04-09", changed_at, untold=True), BY_LETTER)) is in_time


def test_news_of_an_appointment_that_begins_before_it_could_go_out_is_not_wanted() -> None:
    assert news(appointment("2026-02-17", "2026-02-17 09:48", untold=True), BY_EMAIL)
    assert news(appointment("2026-02-17", "2026-02-17 09:49", untold=True), BY_EMAIL) is None


@pytest.mark.parametrize(
    ("written", "goes_out"),
    [
        ("2026-02-17 12:00", "2026-02-17 12:00"),
        ("2026-02-17 05:30", "2026-02-17 08:00"),
        ("2026-02-17 18:59", "2026-02-17 18:59"),
        ("2026-02-17 19:00", "2026-02-18 08:00"),
        ("2026-03-28 19:00", "2026-03-29 07:00"),  # eight o'clock of the day on which the clocks go forward
        ("2026-10-24 18:00", "2026-10-25 08:00"),  # and of the day on which they go back
        ("2026-07-01 06:59", "2026-07-01 07:00"),
    ],
)
def test_news_goes_out_between_eight_and_seven_by_the_clock_of_the_site(written, goes_out) -> None:
    assert in_hours(at(written), LONDON) == at(goes_out)


DATES = some.dates(date(2025, 1, 1), date(2027, 12, 31))
BOOKED = some.builds(
    lambda before, **said: Booked(changed_at=instant_of(said["on"], said["minute"], said["zone"]) - before, **said),
    before=some.timedeltas(timedelta(minutes=-1), timedelta(days=40)),
    on=DATES,
    minute=some.integers(8 * 60, 18 * 60),
    zone=some.sampled_from([LONDON, "America/St_Johns", "Pacific/Auckland"]),
    to_come=some.booleans(),
    cancelled=some.booleans(),
    untold=some.booleans(),
    moved=some.booleans(),
)
REACHES = some.builds(Reach, some.booleans(), some.booleans(), some.booleans())


def open_day_before(on: date, count: int, calendar: OpenDays) -> date:
    """The n-th open day before a day, counted one by one."""
    while count:
        on -= timedelta(days=1)
        count -= calendar.is_open(on)
    return on


@given(BOOKED, REACHES)
@example(appointment("2027-01-04"), BY_EMAIL)
def test_every_notice_goes_out_before_it_is_pointless_and_each_is_wanted_once(booked, reach) -> None:
    found = wanted(booked, reach, ENGLAND)
    kinds = [each.kind for each in found]
    assert len(kinds) == len(set(kinds)) and len([kind for kind in kinds if kind in NEWS]) <= 1
    for each in found:
        assert booked.changed_at < each.due_at < each.until_at
        assert 480 <= local_of(each.due_at, booked.zone)[1] < 1140
        assert each.until_at <= instant_of(booked.on, booked.minute, booked.zone)


@given(BOOKED, REACHES)
def test_a_reminder_is_due_on_the_open_day_that_counting_one_by_one_finds(booked, reach) -> None:
    found = {each.kind: each.due_at for each in wanted(booked, reach, ENGLAND) if each.kind not in NEWS}
    for kind, days in ((NoticeKind.WEEK_BEFORE, 7), (NoticeKind.DAYS_BEFORE, 2)):
        due_at = instant_of(open_day_before(booked.on, days, ENGLAND), 9 * 60, booked.zone)
        assert (found.get(kind) == due_at) is (booked.to_come and due_at > booked.changed_at)
