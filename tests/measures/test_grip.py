"""Grip: the mean of the trials, and its share of the other hand."""

import pytest

from caseload.measures.bodies import Grip
from caseload.measures.grip import mean, share


def test_the_mean_is_that_of_the_trials_there_are():
    assert mean((24, 25, 24)) == pytest.approx(24.333, abs=5e-4)
    assert mean((24.5,)) == 24.5
    assert mean(()) is None


def test_the_share_is_in_per_cent_of_the_other_hand():
    assert share(Grip((24, 26), (30, 32.5))) == 80


@pytest.mark.parametrize("grip", [Grip((24,)), Grip((), (30,)), Grip((24,), (0, 0))])
def test_without_both_hands_there_is_no_share(grip):
    assert share(grip) is None


def test_a_hand_that_cannot_grip_has_a_share_of_nothing():
    assert share(Grip((0, 0, 0), (30,))) == 0
