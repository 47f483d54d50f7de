"""The weeks ahead of a site: whole weeks, days that add up, and what one more session would do."""

from datetime import date, timedelta

import pytest

from caseload.booking import room_program
from caseload.booking.expected import Interval
from caseload.booking.outlook import WEEKS, Outlook, Surgery, days_ahead
from caseload.booking.room import Room, Visit
from caseload.timetable.calendar import OpenDays
from caseload.timetable.terms import FollowUpKind as Kind

STITCHES = frozenset({Kind.STITCHES_OUT})
TODAY = date(2026, 4, 15)  # a Wednesday
OPEN = OpenDays(frozenset(range(5)), {}, date(2020, 1, 1), date(2027, 12, 31))


def day(number: int) -> date:
    return TODAY + timedelta(days=number)


def visit(first: int, last: int, number: int = 1, **own) -> Visit:
    return Visit(STITCHES, day(first), day(last), own.pop("slots", 1), 1, number, **own)


def room(on: int, free: int) -> Room:
    return Room(day(on), 1, frozenset(), free)


def outlook(**own) -> Outlook:
    first, last = days_ahead(TODAY)
    said = {"booked": (), "unbooked": (), "expected": (), "expected_most": (), "rooms": ()} | own
    surgery = Surgery(10, 0, Interval(10, 7, 13))
    return Outlook(site=1, calendar=OPEN, first=first, last=last, surgery=surgery, usual=3, **said)


@pytest.mark.parametrize("today", [date(2026, 4, 12) + timedelta(days=number) for number in range(7)])
def test_from_tomorrow_over_eight_whole_weeks_to_a_sunday(today):
    first, last = days_ahead(today)
    assert first == today + timedelta(days=1) and last.weekday() == 6
    assert (last - first).days // 7 in (WEEKS - 1, WEEKS) and (last - first).days + 1 >= 7 * WEEKS


def test_weeks_begin_on_mondays_and_hold_every_day_once():
    weeks = outlook().weeks
    assert [each.on for week in weeks for each in week.days] == [day(1 + number) for number in range(60)]
    assert all(week.days[0].on.weekday() == 0 for week in weeks[1:]) and len(weeks) == WEEKS + 1


def test_a_day_shows_what_would_be_placed_on_it_in_slots_and_what_stays_free():
    found = outlook(
        booked=(visit(1, 1, slots=2),), unbooked=(visit(1, 1, 2),), expected=(visit(1, 1, 1, slots=2, expected=True),),
        rooms=(room(1, 9),),
    )  # fmt: skip
    assert found.weeks[0].days[0] == (day(1), 2, 2, 2, 5)


def test_a_week_counts_what_falls_due_and_who_finds_no_place():
    found = outlook(
        unbooked=(visit(1, 2, 3),), expected=(visit(1, 2, 1, expected=True),),
        expected_most=(visit(1, 2, 4, expected=True),), rooms=(room(1, 2),),
    )  # fmt: skip
    week = found.weeks[0]
    assert (week.unbooked, week.expected, week.free) == (3, 1, 2)
    assert (week.short, week.short_expected, week.short_most) == (1, 2, 5)


@pytest.mark.parametrize("most", [0, 2_000])
def test_it_says_whether_who_finds_no_place_is_proven(monkeypatch, most):
    monkeypatch.setattr(room_program, "MOST", most)
    assert outlook(unbooked=(visit(1, 2, 3),), rooms=(room(1, 2),)).proven is bool(most)


def test_at_most_is_never_below_what_is_expected():
    found = outlook(
        unbooked=(visit(1, 3, 1), visit(1, 8, 1)), expected=(visit(1, 2, 1, expected=True),), rooms=(room(1, 1),),
    )  # fmt: skip
    assert [(week.short_expected, week.short_most) for week in found.weeks[:2]] == [(1, 1), (1, 1)]


def test_what_is_free_is_told_by_kind_and_week():
    only_reviews = Room(day(2), 1, frozenset({Kind.OUTCOME_REVIEW}), 4)
    found = outlook(rooms=(room(1, 2), only_reviews, room(5, 3)))
    free = dict(found.free_for([Kind.STITCHES_OUT, Kind.OUTCOME_REVIEW]))
    assert free[Kind.STITCHES_OUT][:2] == (2, 3) and free[Kind.OUTCOME_REVIEW][:2] == (6, 3)


def test_what_may_still_be_seen_after_the_last_day_is_not_short_of_a_place():
    assert outlook(unbooked=(visit(50, 90),)).known.missing == 0


def test_one_more_session_helps_those_whose_days_it_falls_on():
    found = outlook(unbooked=(visit(1, 2, 3),))
    gains = [found.with_one_more(day(2), 2), found.with_one_more(day(9), 2)]
    assert [(gain.more, gain.missing) for gain in gains] == [(2, 1), (0, 3)]
    assert found.with_one_more(day(2), 2, frozenset({Kind.OUTCOME_REVIEW})).more == 0


def test_a_week_is_eased_once_everybody_in_it_finds_a_place():
    found = outlook(unbooked=(visit(1, 2, 2), visit(8, 9, 3)))
    assert [week.days[0].on for week in found.eased(found.with_one_more(day(8), 3))] == [day(5)]
    assert found.eased(found.with_one_more(day(8), 2)) == []


def test_the_best_day_is_an_open_one_that_helps():
    found = outlook(unbooked=(visit(1, 5, 3),))  # Thursday to Monday, with a weekend in which the site is shut
    assert [(gain.room.on, gain.more, gain.room.free) for gain in found.best()] == [
        (day(1), 3, 3), (day(2), 3, 3), (day(5), 3, 3),
    ]  # fmt: skip
    assert outlook(unbooked=(visit(1, 5),), rooms=(room(1, 1),)).best() == ()
