"""The demo on days that are awkward for a clinic's calendar, and twice on the same day."""

from datetime import date

import pytest

from caseload.actions.wiping import wipe
from caseload.demo.scenario import Summary, build
from caseload.timetable.terms import Headline

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("today", [date(2026, 1, 1), date(2026, 4, 6)])
def test_every_headline_is_there_on_a_holiday_too(today):
    shows_every_headline(build(today, scale=0))


def test_beyond_the_holiday_data_nothing_is_booked_and_the_demo_still_loads():
    built = build(date(2028, 2, 29), scale=0)
    assert built.in_hand + sum(built.headlines.values()) == built.open > 0


def test_the_same_day_and_seed_give_the_same_clinic_with_every_headline_on_a_holiday():
    first = build(date(2026, 12, 28), scale=0.02)
    shows_every_headline(first)
    wipe()
    assert build(date(2026, 12, 28), scale=0.02) == first


def shows_every_headline(built: Summary) -> None:
    assert set(built.headlines) == {str(headline) for headline in Headline}
    assert built.in_hand + sum(built.headlines.values()) == built.open
