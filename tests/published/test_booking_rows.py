"""Booking against the published: rows C07 and C08 of the table of checks, the figures of weekly sessions, worked days.

C07, C08: part E3 of the table: the system's zone data; an ambiguous local time is its first occurrence (RFC 5545).
Holidays: the official list for England and Wales. Windows of 12 / 14 / 16 days and the worked days: common practice,
computed for the rule set "two-week", Monday to Friday, in England and Wales.
"""

from datetime import UTC, date, datetime, timedelta
from itertools import permutations

import pytest

from caseload.booking.clock import instant_of
from caseload.booking.needs import Asked, Need, one_visit
from caseload.booking.offers import is_inside, offers
from caseload.booking.openings import Opening
from caseload.booking.rehouse import Lost, rehouse
from caseload.booking.weeks import dates_of, uncovered
from caseload.errors import Refusal
from caseload.timetable.plan import FollowUp
from caseload.timetable.terms import Way
from tests.booking.builders import NINE, OTHER, SITE, opening, pattern
from tests.timetable.builders import ENGLAND, after, day, episode, plan, the

LONDON = "Europe/London"
FIRST, LAST = date(2024, 1, 2), date(2027, 11, 30)


def ask(follow_up: FollowUp) -> Asked:
    window = follow_up.earliest_on, follow_up.target_on, follow_up.latest_on
    return Asked(follow_up.key, follow_up.kind, *window, follow_up.minutes, follow_up.in_person, follow_up.provisional)


def stitches_out(surgery_on: str) -> Need:
    asked = ask(the(plan(episode(day(surgery_on))), "stitches-out"))
    return one_visit([asked], site=SITE, therapist=None, interpreter=False)


def place(on: str, **said: object) -> Opening:
    """One free place on a day; the session is named by its day of the month."""
    return opening(session=day(on).day, free=(NINE,))._replace(on=day(on), **said)


def test_c07_a_session_keeps_its_hour_over_a_clock_change() -> None:
    before, then = (instant_of(day(on), NINE, LONDON) for on in ("2026-03-27", "2026-03-30"))
    assert then - before == timedelta(hours=71)
    assert then == datetime(2026, 3, 30, 8, tzinfo=UTC)


def test_c08_a_time_in_the_missing_hour_is_refused() -> None:
    with pytest.raises(Refusal) as refused:
        instant_of(day("2026-03-29"), 90, LONDON)
    assert refused.value.code == "no-such-time"


def test_c08_a_time_that_comes_twice_is_the_first() -> None:
    assert instant_of(day("2026-10-25"), 90, LONDON) == datetime(2026, 10, 25, 0, 30, tzinfo=UTC)


def test_sessions_on_tuesdays_only_leave_197_of_992_windows_of_day_12_to_16_empty() -> None:
    windows = [(after(12, on), after(16, on)) for on in ENGLAND.open_days(FIRST, LAST)]
    tuesdays = dates_of(pattern(starts_on=FIRST), FIRST, date(2027, 12, 31), ENGLAND)
    found = uncovered(tuesdays, windows)
    assert (found.windows, found.without) == (992, 197)


def test_sessions_on_every_weekday_leave_no_window_of_day_12_to_16_empty() -> None:
    windows = [(after(12, on), after(16, on)) for on in ENGLAND.open_days(FIRST, LAST)]
    every = [
        on
        for day in range(5)
        for on in dates_of(pattern(weekday=day, starts_on=FIRST), FIRST, date(2027, 12, 31), ENGLAND)
    ]
    assert uncovered(every, windows).without == 0


def test_3_on_the_day_of_the_cancellation_three_usable_days_are_left() -> None:
    weekly = [pattern(weekday=weekday) for weekday in range(5)]
    held = [on for each in weekly for on in dates_of(each, day("2026-04-02"), day("2026-04-17"), ENGLAND)]
    openings = [place(on.isoformat()) for on in held]
    found = offers(stitches_out("2026-03-24"), openings, way=Way.IN_PERSON, today=day("2026-04-02"), minute=NINE)
    assert [(each.on.day, each.days_late) for each in found] == [(7, 0), (8, 0), (9, 0)]


def test_3_with_thursday_full_the_next_place_is_friday_one_day_late() -> None:
    openings = [place("2026-04-08"), place("2026-04-09", free=()), place("2026-04-10")]
    found = offers(stitches_out("2026-03-24"), openings, way=Way.IN_PERSON, today=day("2026-04-08"), minute=NINE)
    assert [(each.on, each.days_late) for each in found] == [(day("2026-04-10"), 1)]


SURGERIES = {22: "2026-03-22", 23: "2026-03-23", 24: "2026-03-24"}
DAYS = ("2026-04-07", "2026-04-08", "2026-04-09")


@pytest.mark.parametrize("order", list(permutations(SURGERIES)))
def test_4_the_patients_of_a_lost_tuesday_are_rehoused_in_order_of_latest_day(order: tuple[int, ...]) -> None:
    gone = [Lost(number, stitches_out(SURGERIES[number]), Way.IN_PERSON) for number in order]
    left = [place(on, therapist=OTHER) for on in DAYS]
    found = rehouse(gone, left, today=day("2026-04-07"), minute=0)
    assert [(each.appointment, each.offer.on.day, each.offer.days_late) for each in found] == [
        (22, 7, 0),
        (23, 8, 0),
        (24, 9, 0),
    ]


@pytest.mark.parametrize("order", list(permutations(SURGERIES)))
def test_4_any_other_order_breaches_a_window(order: tuple[int, ...]) -> None:
    inside = [is_inside(stitches_out(SURGERIES[number]), day(on)) for number, on in zip(order, DAYS, strict=True)]
    assert all(inside) is (order == (22, 23, 24))


def test_5_the_rings_outcome_review_and_the_indexs_stitches_out_share_a_visit_of_an_hour() -> None:
    ring, index = plan(episode(day("2026-03-20"))), plan(episode(day("2026-04-13")))
    asked = [ask(the(ring, "outcome-review")), ask(the(index, "stitches-out"))]
    shared = one_visit(asked, site=SITE, therapist=None, interpreter=False)
    (offer, *_) = offers(
        shared, [opening()._replace(on=day("2026-04-27"))], way=Way.IN_PERSON, today=day("2026-04-13"), minute=0
    )
    assert (offer.on, offer.minutes, offer.days_late) == (day("2026-04-27"), 60, 0)
