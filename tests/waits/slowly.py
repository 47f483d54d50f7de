"""The same estimates written down as their definitions have them, person by person in exact fractions."""

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from caseload.waits.rows import Waits


class Person(NamedTuple):
    days: int
    ended: int
    entered: int


def people(of: Waits) -> list[Person]:
    each = zip(of.days.tolist(), of.ended.tolist(), of.entered.tolist(), of.number.tolist(), strict=True)
    return [Person(days, ended, entered) for days, ended, entered, number in each for _ in range(number)]


def at_risk(of: Sequence[Person], day: int) -> int:
    return sum(person.entered <= day <= person.days for person in of)


def stopped(of: Sequence[Person], day: int, *ends: int) -> int:
    return sum(person.days == day and person.ended in ends for person in of)


def still_waiting(of: Sequence[Person], day: int, ends: Sequence[int] = (1,)) -> Fraction:
    """Kaplan and Meier: the product over the days so far of the share of those at risk who did not end so."""
    share = Fraction(1)
    for each in range(day + 1):
        if there := at_risk(of, each):
            share *= 1 - Fraction(stopped(of, each, *ends), there)
    return share


def variance(of: Sequence[Person], day: int) -> Fraction:
    """Greenwood: S squared times the sum of d / (n (n - d))."""
    found = Fraction(0)
    for each in range(day + 1):
        there, seen = at_risk(of, each), stopped(of, each, 1)
        if there > seen:
            found += Fraction(seen, there * (there - seen))
    return still_waiting(of, day) ** 2 * found


def reached(of: Sequence[Person], day: int, end: int, ends: Sequence[int]) -> Fraction:
    """Aalen and Johansen: the sum over the days so far of who waited until then times the share that ended so."""
    found = Fraction(0)
    for each in range(day + 1):
        if there := at_risk(of, each):
            found += still_waiting(of, each - 1, ends) * Fraction(stopped(of, each, end), there)
    return found


def expected(groups: Sequence[Sequence[Person]], days: int) -> list[Fraction]:
    """What would have been seen in each group, had each day's been shared out by who is at risk."""
    found = [Fraction(0)] * len(groups)
    for day in range(days):
        there = [at_risk(group, day) for group in groups]
        seen = sum(stopped(group, day, 1) for group in groups)
        if seen:
            found = [sum_ + Fraction(seen * here, sum(there)) for sum_, here in zip(found, there, strict=True)]
    return found


def variance_of_first(groups: Sequence[Sequence[Person]], days: int) -> Fraction:
    """Of two groups: the hypergeometric variance of what is seen in the first."""
    found = Fraction(0)
    for day in range(days):
        first, second = (at_risk(group, day) for group in groups)
        seen, both = sum(stopped(group, day, 1) for group in groups), first + second
        if seen and both > 1:
            found += Fraction(seen * (both - seen) * first * second, both * both * (both - 1))
    return found
