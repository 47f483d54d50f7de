"""Figures of waits in words: numbers said right, doubts said plainly, nothing said that the figures do not hold."""

from datetime import date
from math import inf

import pytest
from django.utils import translation

from caseload.parsing import Priority
from caseload.waits.clocks import Targets
from caseload.waits.figures import Compared, Day, Flow, Share, Tail, Trend
from caseload.waits.rows import Period
from caseload.waits.terms import Behind, Clock, End
from caseload.waits.verdicts import Line, Measure, Verdict, pairs
from caseload.wording import label
from caseload.wording import waits as say
from caseload.wording import waits_apart as apart
from caseload.wording.labels import LABELS
from caseload.wording.waits_clocks import BEGINS, STOPS, say_clock, say_counting, say_methods, say_target
from tests.waits import sample

FIRST, OUT = Clock.FIRST_VISIT, Clock.STITCHES_OUT
KEPT = "\N{NO-BREAK SPACE}%"


def kept(said: str) -> str:
    """As it is said: a per cent sign stays with its number."""
    return said.replace(" %", KEPT)


@pytest.mark.parametrize("words", [Clock, End, Behind, Verdict, Measure])
def test_every_word_of_the_waits_has_a_label_of_its_own(words) -> None:
    labels = [label(word) for word in words]
    assert all(labels) and len(set(labels)) == len(labels) and set(LABELS[words]) == {word.value for word in words}


@pytest.mark.parametrize("clock", list(Clock))
def test_every_clock_has_its_words(clock: Clock) -> None:
    assert all(clock in words for words in (BEGINS, STOPS, say.DONE, say.SEEN))
    assert [name for name, said in say_clock(clock, Targets()) if said] == ["Begins", "Stops", "Target"]


def test_a_centile_is_said_with_its_limits() -> None:
    now = sample.summary(centile_92=Day(51, 44, None))
    assert say.say_centile(Measure.MEDIAN, now, FIRST) == (
        "Half were seen by day 22 (likely between day 17 and day 26)."
    )
    assert say.say_centile(Measure.CENTILE_92, now, OUT) == (
        "92 in 100 had their stitches out by day 51 (likely day 44 or later)."
    )


def test_a_centile_that_is_not_reached_says_so_and_until_when_anybody_was_watched() -> None:
    now = sample.summary(median=Day(None, 40, None), centile_92=Day(None, None, None))
    assert say.say_centile(Measure.MEDIAN, now, FIRST) == (
        "When half were seen cannot be said (likely day 40 or later): nobody was watched beyond day 55."
    )
    assert say.say_centile(Measure.CENTILE_92, now, FIRST) == (
        "When 92 in 100 were seen cannot be said: nobody was watched beyond day 55."
    )
    assert say.say_centile(Measure.MEDIAN, sample.few(), FIRST) == "When half were seen cannot be said."


def test_the_days_of_a_table() -> None:
    days = [Day(22, 17, 26), Day(51, 44, None), Day(None, None, None), Day(0, 0, 0)]
    assert [say.say_day(day) for day in days] == ["22", "51", "not reached", "0"]
    assert [say.say_day_limits(day) for day in days] == ["17 to 26", "44 or later", "–", "0"]


def test_limits_that_say_nothing_or_leave_one_day_are_said_so() -> None:
    now = sample.summary(median=Day(4, 0, None), centile_92=Day(0, 0, 0))
    assert say.say_centile(Measure.MEDIAN, now, FIRST) == "Half were seen by day 4 (how surely cannot be said)."
    assert say.say_centile(Measure.CENTILE_92, now, FIRST) == "92 in 100 were seen by day 0 (hardly another day)."


def test_the_average_is_said_with_how_far_it_was_counted() -> None:
    assert say.say_mean(sample.summary()) == "Counted up to 55 days, a wait takes 23.6 days on average."
    assert say.say_mean(sample.few()) == ""


@pytest.mark.parametrize(
    ("waits", "said"),
    [(0, "Nobody waited in this period."), (1, "1 wait is fewer than 5: its numbers"), (3, "3 waits are fewer than 5")],
)
def test_why_there_is_no_curve(waits: int, said: str) -> None:
    assert say.say_no_curve(sample.few(at_start=0, began=waits)).startswith(said)


def test_a_weak_tail_is_said() -> None:
    assert say.say_tail(None) == [] == say.say_tail(Tail(55, None, None, 55))
    thin, shaky, emptied = say.say_tail(Tail(55, 52, 3, 40))
    assert thin == "From day 52 on fewer than 5 are watched: the end of the curve is weak."
    assert "Up to day 3" in shaky and "On day 40 all who were watched were seen" in emptied


@pytest.mark.parametrize(("p", "said"), [(0.00004, "p < 0.001"), (0.0123, "p = 0.012"), (0.412, "p = 0.41")])
def test_a_p_value(p: float, said: str) -> None:
    assert say.say_p(p) == said


def test_what_chance_explains() -> None:
    change = Compared(6.3, 1, 0.012, {}, {})
    assert say.say_chance(change) == ("How long people wait differs by more than chance would explain (p = 0.012).")
    assert say.say_chance(change._replace(p=0.05)) == (
        "Chance alone could explain how the two periods differ (p = 0.050)."
    )
    assert "too few waits" in say.say_chance(None)


def test_the_completed_only_and_the_truth_are_set_against_each_other() -> None:
    both = pairs(sample.summary(), sample.before())
    assert say.say_both_ways(both) == ["Completed waits alone say better; the truth is worse."]
    half = pairs(sample.summary(completed_92=40.0, within=Share(40, 46, 0.87, 0.7, 0.95)), sample.before())
    assert say.say_both_ways(half) == ["Completed waits alone say better; the truth is worse (half)."]


def test_where_both_ways_agree_or_nothing_can_be_compared_nothing_is_claimed() -> None:
    same = sample.summary(completed_median=20.0, completed_92=40.0, within_completed=Share(1, 4, 0.25, 0.05, 0.7))
    assert say.say_both_ways(pairs(same, sample.before())) == ["Both ways of counting point the same way this time."]
    assert say.say_both_ways(pairs(sample.few(within=None), sample.before())) == []


def test_what_moved_is_said_in_days_and_points() -> None:
    days = [(15, 22, "7 days longer"), (16.0, 15.0, "1 day shorter"), (3, 3.4, "0.4 days longer"), (3, 3, "")]
    assert [say.say_moved(Measure.MEDIAN, Line(*of, Verdict.SAME)) for *of, _ in days] == [said for *_, said in days]
    shares = [(0.63, 0.46, "17 points lower"), (0.5, 0.51, "1 point higher"), (0.5, 0.501, "")]
    assert [say.say_moved(Measure.WITHIN, Line(*of, Verdict.SAME)) for *of, _ in shares] == [of[2] for of in shares]
    assert say.say_moved(Measure.MEDIAN, Line(inf, 3, Verdict.BETTER)) == ""
    assert say.say_moved(Measure.MEDIAN, Line(None, 3, Verdict.UNSAID)) == ""


def test_values_of_a_table() -> None:
    assert [say.say_value(Measure.MEDIAN, value) for value in (13.0, 30.4, inf, None)] == [
        "13",
        "30.4",
        "not reached",
        "–",
    ]
    assert say.say_value(Measure.WITHIN, 0.4565) == kept("46 %") and say.say_value(Measure.WITHIN, None) == "–"
    assert say.say_limits(Share(21, 46, 0.4565, 0.3219, 0.5982)) == kept("32 % to 60 %")
    assert say.say_limits(Share(0, 0, None, None, None)) == "–"


def test_of_whom_a_share_is() -> None:
    assert say.say_whose_day(sample.MARCH) == "Of those whose target day fell in March 2026"
    assert say.say_completed(sample.MARCH, OUT) == "Of completed waits alone: stitches out in March 2026"
    assert say.say_end("seen", OUT) == "stitches out" and say.say_end("died", OUT) == "died"


def test_a_trend_names_the_points_that_stand_out() -> None:
    whole, odd = apart.say_trend(sample.trend())
    assert whole == kept("Over all of it 60 % were within target.")
    assert odd == kept(
        "By more than chance stand out: week from Mon 16 Mar 2026: 15 %, below the limits; "
        "week from Mon 23 Mar 2026: 40 %, eighth or later in a row below the mean."
    )


def test_a_trend_in_which_nothing_stands_out_says_so() -> None:
    calm = [point._replace(signal="") for point in sample.trend().points]
    assert apart.say_trend(Trend(tuple(calm), 0.6))[1] == (
        "No point stands out: the ups and downs are those of chance."
    )
    assert apart.say_trend(Trend(tuple(calm), None)) == ["No target day fell in these stretches."]


def test_the_flow_is_said_with_its_limits() -> None:
    whole, odd = apart.say_flow(sample.flow(), FIRST)
    assert whole == "11 a week on average; chance alone moves it between 5.7 and 16.3."
    assert odd == "By more than chance stand out: week from Mon 16 Mar 2026: 5, below the limits."
    edge = apart.say_flow(sample.flow()._replace(lower=4.04, upper=12.96), FIRST)[0]
    assert edge.endswith("between 4.1 and 12.9.")
    assert apart.say_flow(Flow((), 3.0, None, None, None), OUT)[0] == "3 a week on average: stitches out."
    assert apart.say_flow(Flow((), None, None, None, None), OUT) == []


def test_a_stretch_is_a_month_or_begins_on_a_day() -> None:
    assert apart.say_stretch(sample.MARCH) == "March 2026"
    assert apart.say_stretch(Period(date(2026, 3, 16), date(2026, 3, 22))) == "week from Mon 16 Mar 2026"
    assert apart.say_signal("", 3, 3) == "" == apart.say_signal("beyond", None, 3)


def test_groups_differ_by_more_than_chance_or_not() -> None:
    compared = sample.groups().compared
    assert apart.say_compared("site", compared) == (
        "Between sites waits differ by more than chance would explain (p = 0.003)."
    )
    assert apart.say_compared("surgeon", compared._replace(p=0.4)) == (
        "Between surgeons waits differ no more than chance could explain (p = 0.40)."
    )
    assert apart.say_rest("therapist", 0) == ""
    assert apart.say_rest("therapist", 11) == (
        "Not shown: 11, of therapists with too few waits to be shown by themselves."
    )
    assert "fewer than two of them have 5 waits" in apart.say_compared("suture", None)


def test_groups_have_names() -> None:
    names = {"fernhollow": "Fernhollow"}
    assert apart.say_group("site", "fernhollow", names) == "Fernhollow"
    assert apart.say_group("surgeon", "Dr Wren", {}) == "Dr Wren" and apart.say_group("surgeon", "", {}) == "not known"
    assert apart.say_group("suture", "absorbable", {}) == "absorbable stitches"
    assert apart.say_group("priority", Priority.URGENT, {}) == "urgent"


def test_a_funnel_names_who_lies_beyond_who_is_too_few_and_how_wide_they_spread() -> None:
    names = {"quay-street": "Quay Street", "mill-lane": "Mill Lane", "fernhollow": "Fernhollow"}
    beyond, few, spread = apart.say_funnel(sample.funnel(), names)
    assert beyond == kept("Quay Street lies above the limits of 99.8 %: 80 % within target (16 of 20).")
    assert few == "Too few target days to be shown by themselves: Mill Lane (3)."
    assert spread.startswith("They spread 2.4 times as much as chance alone would. That is more than")


def test_a_funnel_in_which_nobody_stands_out_says_so() -> None:
    inside = sample.funnel().points[:1]
    calm = sample.funnel()._replace(points=inside, left_out={}, dispersion=1.1)
    assert apart.say_funnel(calm, {}) == [
        "Within target, none lies beyond the limits.", "They spread 1.1 times as much as chance alone would."
    ]  # fmt: skip
    narrow = apart.say_funnel(calm._replace(dispersion=0.4), {})[1]
    assert narrow == "They spread no wider than chance alone would (0.4 times as much)."
    assert apart.say_funnel(calm._replace(points=(), dispersion=None), {}) == []


def test_days_from_the_target() -> None:
    said = [apart.say_from_target(day) for day in (-2, 0, 1)]
    assert said == ["2 days before the target day", "on the target day", "1 day after the target day"]


@pytest.mark.parametrize(
    ("clock", "targets", "said"),
    [
        (FIRST, Targets(), "Within 14 days, urgent within 7 days."),
        (FIRST, Targets(first_visit=None), "Urgent within 7 days, routine none."),
        (FIRST, Targets(first_visit_urgent=None), "Within 14 days, urgent none."),
        (FIRST, Targets(first_visit=None, first_visit_urgent=None), "None."),
        (Clock.OFFERED, Targets(), "None."),
        (Clock.OFFERED, Targets(offered=1), "Within 1 day."),
        (Clock.WOUND_CLOSED, Targets(), "Within 21 days."),
        (OUT, Targets(), "The window of the rules: on its latest day or before it."),
    ],
)
def test_targets(clock: Clock, targets: Targets, said: str) -> None:
    assert say_target(clock, targets) == said


def test_how_is_counted_is_explained_with_the_methods_by_name() -> None:
    assert all(name and said for name, said in say_counting())
    assert say_methods({"curve": "Kaplan-Meier", "own": "counted"}) == [
        ("The curve", "Kaplan-Meier"), ("own", "counted")
    ]  # fmt: skip


def test_dates_of_a_trend_follow_the_language_in_use() -> None:
    with translation.override("de"):
        assert "Mo 16 Mär 2026" in apart.say_stretch(Period(date(2026, 3, 16), date(2026, 3, 22)))
