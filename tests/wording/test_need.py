"""Need and room in words: what fits, which week is worst, what one more session would do."""

from datetime import date

import pytest

from caseload.booking.expected import Interval
from caseload.booking.outlook import Outlook, Surgery, days_ahead
from caseload.booking.room import Gain, Room, Short, Visit, Why
from caseload.timetable.calendar import OpenDays
from caseload.timetable.terms import FollowUpKind as Kind
from caseload.wording.need import say_eased, say_fit, say_gain

FIRST, LAST = days_ahead(date(2026, 4, 15))
OPEN = OpenDays(frozenset(range(5)), {}, date(2020, 1, 1), date(2027, 12, 31))


def visit(first: date, last: date, number: int, expected: bool = False) -> Visit:
    return Visit(frozenset({Kind.STITCHES_OUT}), first, last, 1, 1, number, expected)


APRIL, MAY = (date(2026, 4, 20), date(2026, 4, 22)), (date(2026, 5, 4), date(2026, 5, 6))


def outlook(known: tuple[Visit, ...] = (), expected: int = 0, most: int = 0) -> Outlook:
    middle, upper = ((visit(*MAY, number, True),) if number else () for number in (expected, most))
    return Outlook(1, OPEN, FIRST, LAST, (), known, middle, upper, (), Surgery(0, 0, Interval(0, 0, 0)), 3)


@pytest.mark.parametrize(
    ("found", "said"),
    [
        (outlook(), "All that is known finds a place, and all that is to be expected."),
        (outlook(most=2), "If there are as many operations as there may be, 2 visits do not."),
        (outlook(expected=1, most=2), "All that is known finds a place. With what is to be expected, 1 more does not."),
        (
            outlook((visit(*APRIL, 1),)),
            "1 visit that is known already finds no place by its last day. That is in the week from Mon 20 Apr 2026.",
        ),
        (
            outlook((visit(*APRIL, 2), visit(*MAY, 3)), expected=4),
            "5 visits that are known already find no place by their last day. The worst week is that from "
            "Mon 4 May 2026, with 3. With what is to be expected, 4 more do not.",
        ),
    ],
)
def test_whether_it_fits_is_said_in_a_sentence(found: Outlook, said: str) -> None:
    assert say_fit(found).endswith(said)


@pytest.mark.parametrize(
    ("more", "short", "said"),
    [
        (0, 2, "would place nobody more."),
        (-1, 2, "would place nobody more."),
        (1, 0, "would place the only visit that finds no place."),
        (3, 0, "would place all 3 visits that find no place."),
        (3, 2, "would place 3 of the 5 visits that find no place."),
    ],
)
def test_what_one_more_session_would_do_is_said_of_all_that_finds_no_place(more: int, short: int, said: str) -> None:
    left = (Short(visit(*MAY, short), short, Why.FULL),) if short else ()
    room = Room(APRIL[0], 1, frozenset(), 3)
    assert say_gain(Gain(room, more, left)) == f"A session on Mon 20 Apr 2026 {said}"


def test_weeks_that_would_be_short_no_more_are_named() -> None:
    one, other = (week for week in outlook().weeks if week.days[0].on in (APRIL[0], MAY[0]))
    assert say_eased([]) == ""
    assert say_eased([one]) == "The week from Mon 20 Apr 2026 would be short no more."
    assert say_eased([one, other]) == "The weeks from Mon 20 Apr 2026, Mon 4 May 2026 would be short no more."
