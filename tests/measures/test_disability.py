"""QuickDASH: a score of eleven answers, or none."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from caseload.measures.bodies import QuickDash
from caseload.measures.disability import LEAST_ANSWERED, score, unanswered

ANSWERS = st.lists(st.none() | st.integers(1, 5), min_size=11, max_size=11).map(tuple)


def test_one_answer_may_be_left_out():
    assert score(QuickDash((3,) * 10 + (None,))) == 50
    assert unanswered(QuickDash((3,) * 10 + (None,))) == 1


@pytest.mark.parametrize("answers", [(3,) * 9 + (None, None), (None,) * 11, ()])
def test_two_left_out_leave_no_score(answers):
    assert score(QuickDash(answers)) is None


@given(ANSWERS)
def test_a_score_lies_between_0_and_100(answers):
    found = score(QuickDash(answers))
    assert (found is None) == (11 - unanswered(QuickDash(answers)) < LEAST_ANSWERED)
    assert found is None or 0 <= found <= 100
