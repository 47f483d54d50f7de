"""Better or worse: by everybody who waited, and by those who were seen only."""

from math import inf

from caseload.waits.figures import Day, Share
from caseload.waits.verdicts import Line, Measure, Verdict, pairs
from tests.waits import sample


def test_the_completed_only_can_say_better_where_the_truth_is_worse() -> None:
    found = pairs(sample.summary(), sample.before())
    assert [pair.measure for pair in found] == list(Measure)
    assert found[0].truth == Line(15, 22, Verdict.WORSE) and found[0].completed == Line(16.0, 13.0, Verdict.BETTER)
    assert [pair.truth.verdict for pair in found] == [Verdict.WORSE] * 3
    assert [pair.completed.verdict for pair in found] == [Verdict.BETTER] * 3
    assert all(pair.differs for pair in found)


def test_a_change_that_would_not_show_is_none() -> None:
    before = sample.before(completed_median=13.04, within=Share(1, 2, 0.4568, 0.3, 0.6))
    median, _, within = pairs(sample.summary(), before)
    assert median.completed.verdict is Verdict.SAME and within.truth.verdict is Verdict.SAME
    assert median.differs


def test_what_is_not_reached_is_longer_than_any_day() -> None:
    never = sample.summary(median=Day(None, 40, None))
    assert pairs(never, sample.before())[0].truth == Line(15, inf, Verdict.WORSE)
    assert pairs(sample.before(), never)[0].truth == Line(inf, 15, Verdict.BETTER)
    assert pairs(never, never)[0].truth.verdict is Verdict.UNSAID


def test_too_few_have_no_verdict_that_counts_everybody() -> None:
    median, centile, within = pairs(sample.few(), sample.before())
    assert median.truth == Line(15, None, Verdict.UNSAID) and centile.truth.verdict is Verdict.UNSAID
    assert median.completed.verdict is Verdict.BETTER and not median.differs
    assert within.truth.verdict is Verdict.BETTER


def test_without_a_target_there_is_no_share_and_of_nothing_none_is_made() -> None:
    assert len(pairs(sample.summary(within=None, within_completed=None), sample.before())) == 2
    nothing = sample.before(within=Share(0, 0, None, None, None), completed_median=None)
    median, _, within = pairs(sample.summary(), nothing)
    assert within.truth.verdict is Verdict.UNSAID and median.completed.verdict is Verdict.UNSAID
