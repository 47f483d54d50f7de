"""What is to be expected of operations to come: the numbers of a reference library, and nothing lost in rounding."""

from datetime import date, timedelta

import pytest
from scipy.stats import nbinom

from caseload.booking.expected import Pattern, predicted, visits_expected
from caseload.timetable.terms import FollowUpKind as Kind

STITCHES = frozenset({Kind.STITCHES_OUT})
MONDAY = date(2026, 4, 13)


@pytest.mark.parametrize(
    ("number", "weeks", "ahead", "share"),
    [(0, 12, 1, 0.8), (1, 12, 8, 0.8), (120, 12, 1, 0.8), (120, 12, 6, 0.95), (37, 11.4, 2.5, 0.8), (900, 12, 8, 0.8)],
)
def test_the_interval_is_that_of_the_negative_binomial(number, weeks, ahead, share):
    """Source: scipy.stats.nbinom, whose second parameter is the chance of a success."""
    found = predicted(number, weeks, ahead, share)
    reference = nbinom(number + 0.5, weeks / (weeks + ahead))
    assert found.mean == pytest.approx(reference.mean())
    assert (found.lower, found.upper) == tuple(map(int, reference.ppf([(1 - share) / 2, (1 + share) / 2])))


def test_the_visits_follow_their_weekday_and_the_days_of_the_window():
    pattern = Pattern(0, STITCHES, 12, 16, 1, 7, 24)
    days = [MONDAY + timedelta(days=number) for number in range(14)]
    found = visits_expected([pattern], 12, days)
    assert [(each.first, each.last, each.number) for each in found] == [
        (date(2026, 4, 25), date(2026, 4, 29), 2), (date(2026, 5, 2), date(2026, 5, 6), 2),
    ]  # fmt: skip
    assert all(each.expected and each.site == 7 for each in found)


def test_fractions_are_carried_so_that_the_whole_stretch_is_right():
    pattern = Pattern(2, STITCHES, 12, 16, 1, 7, 5)
    days = [MONDAY + timedelta(days=number) for number in range(7 * 48)]
    assert sum(each.number for each in visits_expected([pattern], 12, days)) == 20
    assert sum(each.number for each in visits_expected([pattern], 12, days, scale=1.5)) == 30


def test_where_nobody_was_operated_nobody_is_expected():
    assert visits_expected([Pattern(0, STITCHES, 12, 16, 1, 7, 0)], 12, [MONDAY]) == ()
