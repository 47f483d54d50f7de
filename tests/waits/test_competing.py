"""How waits end, against the definition in exact fractions."""

import numpy as np
import pytest

from caseload.waits.competing import aalen_johansen, incidence
from caseload.waits.figures import Reached
from caseload.waits.survival import kaplan_meier, tally
from tests.waits import slowly
from tests.waits.builders import WORDS, invented, one_by_one, shuffled, waits


@pytest.mark.parametrize("late", [False, True])
@pytest.mark.parametrize("seed", range(3))
def test_the_share_that_ended_so_is_the_sum_of_its_definition(seed, late):
    of = invented(seed, 25, late=late, longest=9)
    everyone, found = slowly.people(of), aalen_johansen(tally(of))
    for place, word in enumerate(WORDS[1:]):
        assert found.words[place] == word
        for day, value in enumerate(found.reached[place]):
            exact = slowly.reached(everyone, day, place + 1, (1, 2, 3))
            assert value == pytest.approx(float(exact), abs=1e-14)


@pytest.mark.parametrize("late", [False, True])
@pytest.mark.parametrize("seed", range(10))
def test_who_waits_and_how_the_others_ended_make_up_the_whole_on_every_day(seed, late):
    found = aalen_johansen(tally(invented(seed, 300, late=late)))
    assert np.allclose(found.still_waiting + found.reached.sum(axis=0), 1, rtol=0, atol=1e-12)
    assert np.all(np.diff(found.reached, axis=1) >= 0)


def test_where_nothing_competes_it_is_what_the_curve_leaves():
    by_day = tally(invented(4, 100, late=True, ways=2))
    found = aalen_johansen(by_day)
    assert np.allclose(found.reached[0], 1 - kaplan_meier(by_day).still_waiting, rtol=0, atol=1e-14)


def test_a_curve_of_its_own_for_one_end_would_overstate_it():
    by_day = tally(invented(5, 200, late=False))
    assert aalen_johansen(by_day).reached[0, -1] < 1 - kaplan_meier(by_day).still_waiting[-1] - 0.05


def test_each_word_has_the_days_on_which_somebody_ended_so():
    found = incidence(aalen_johansen(tally(waits([1, 2, 2, 9], [1, 3, 3, 0]))))
    assert found == {"seen": (Reached(1, 0.25),), "died": (Reached(2, pytest.approx(0.5)),)}


def test_order_and_putting_together_do_not_matter():
    of = invented(6, 60, late=True)._replace(number=np.random.default_rng(6).integers(1, 9, 60))
    found = incidence(aalen_johansen(tally(of)))
    assert (
        found == incidence(aalen_johansen(tally(shuffled(of, 1)))) == incidence(aalen_johansen(tally(one_by_one(of))))
    )


def test_of_nobody_nothing_has_ended():
    assert incidence(aalen_johansen(tally(waits([], [])))) == {}
