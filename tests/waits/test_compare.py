"""Groups beside each other: the log-rank test against its definition, and where it has nothing to say."""

import numpy as np
import pytest
from scipy.special import gammaincc

from caseload.waits.compare import chance_beyond, log_rank
from caseload.waits.survival import tally
from tests.waits import slowly
from tests.waits.builders import invented, one_by_one, placebo, shuffled, six_mp, waits


def apart(*groups):
    return log_rank({f"group {place}": tally(of) for place, of in enumerate(groups)})


@pytest.mark.parametrize("late", [False, True])
@pytest.mark.parametrize("seed", range(4))
def test_two_groups_differ_as_the_definition_has_it(seed, late):
    both = [invented(seed, 20, late=late, longest=9), invented(seed + 100, 15, late=late, longest=12)]
    exact = [slowly.people(of) for of in both]
    expected = slowly.expected(exact, 12)
    observed = sum(person.ended == 1 for person in exact[0])
    found = apart(*both)
    assert list(found.expected.values()) == pytest.approx([float(each) for each in expected], abs=1e-12)
    chi_square = (observed - expected[0]) ** 2 / slowly.variance_of_first(exact, 12)
    assert found.chi_square == pytest.approx(float(chi_square), abs=1e-11)
    assert found.degrees == 1


@pytest.mark.parametrize("seed", range(4))
def test_what_was_seen_is_what_would_have_been_seen_in_all(seed):
    found = apart(*(invented(seed * 10 + group, 40, late=True) for group in range(5)))
    assert sum(found.observed.values()) == pytest.approx(sum(found.expected.values()), abs=1e-10)
    assert found.degrees == 4


def test_the_names_and_the_order_of_groups_do_not_matter():
    groups = [invented(group, 40, late=True) for group in range(3)]
    found, turned = apart(*groups), apart(*groups[::-1])
    assert found.chi_square == pytest.approx(turned.chi_square, abs=1e-11)
    assert list(found.observed.values()) == list(turned.observed.values())[::-1]


def test_order_and_putting_together_of_waits_do_not_matter():
    one, two = (invented(seed, 60, late=True)._replace(number=np.arange(60) % 7 + 1) for seed in (1, 2))
    assert apart(one, two) == apart(shuffled(one, 3), one_by_one(two))


def test_the_same_waits_twice_do_not_differ():
    found = apart(six_mp(), six_mp())
    assert found.chi_square == pytest.approx(0, abs=1e-20)
    assert found.p == pytest.approx(1)


def test_a_group_of_nobody_adds_nothing():
    with_nobody, without = apart(six_mp(), waits([], []), placebo()), apart(six_mp(), placebo())
    assert with_nobody.chi_square == pytest.approx(without.chi_square, abs=1e-12)
    assert (with_nobody.degrees, with_nobody.observed["group 1"], with_nobody.expected["group 1"]) == (1, 0, 0)


def test_groups_that_are_never_watched_on_the_same_day_cannot_be_told_apart():
    found = apart(waits([1, 2, 3], [1, 1, 0]), waits([8, 9, 9], [1, 1, 0], entered=[7, 7, 7]))
    assert (found.chi_square, found.degrees, found.p) == (0, 0, 1)


@pytest.mark.parametrize("groups", [(), (six_mp(),), (waits([5], [0]), waits([6], [0])), (waits([], []),) * 2])
def test_where_there_are_not_two_groups_or_nobody_was_seen_nothing_is_compared(groups):
    found = apart(*groups)
    assert (found.chi_square, found.degrees, found.p) == (0, 0, 1)


@pytest.mark.parametrize("degrees", [1, 2, 3, 4, 7, 40, 201])
def test_the_chance_beyond_a_chi_square_is_that_of_scipy(degrees):
    for chi_square in (1e-9, 0.1, 1, 3.84, 16.79, 60, 250, 1600):
        exact = gammaincc(degrees / 2, chi_square / 2)
        assert chance_beyond(chi_square, degrees) == pytest.approx(exact, rel=1e-11, abs=1e-300)
    assert chance_beyond(0, degrees) == 1
