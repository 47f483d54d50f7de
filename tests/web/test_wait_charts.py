"""Charts of waits: every figure is where its value says, read back from the drawing. The rules for them are our own."""

import re
from datetime import date

import pytest

from caseload.waits.figures import Day, Flow, Funnel, Step, Tail, Trend
from caseload.waits.terms import Signal
from caseload.web.wait_charts import curve_chart, ends_chart, flow_chart, funnel_chart, slippage_chart, trend_chart
from tests.waits import sample
from tests.web.drawn import corners, marks, near, plot, walked, words

EVERY = {
    "curve": curve_chart(sample.summary(), sample.before()),
    "trend": trend_chart(sample.trend()),
    "flow": flow_chart(sample.flow()),
    "funnel": funnel_chart(sample.funnel(), {"fernhollow": "Fernhollow"}),
    "ends": ends_chart(sample.summary()),
    "slippage": slippage_chart(sample.slippage()),
}


@pytest.mark.parametrize("chart", EVERY.values(), ids=EVERY)
def test_a_chart_is_a_picture_with_a_sentence_and_without_style_or_script(chart):
    assert plot(chart).get("role") == "img" and plot(chart).attrib["aria-label"].endswith(".")
    assert not re.search(r"style=|<script|<style|on\w+=|href", chart)


@pytest.mark.parametrize("chart", EVERY.values(), ids=EVERY)
def test_nothing_lies_outside_the_plot(chart):
    numbers = re.findall(r'\b(?:x|y|cx|cy|x1|x2)="(-?[\d.]+)%"', chart)
    assert numbers and all(0 <= float(each) <= 100 for each in numbers)
    inside = plot(chart).findall("svg[@preserveAspectRatio='none']/path")
    found = [place for each in inside for place in walked(each.attrib["d"])]
    assert found and all(0 <= number <= 100 for place in found for number in place)


def test_the_curve_falls_on_each_day_to_what_still_waits():
    summary = sample.summary(tail=Tail(55, None, None, None))
    falls = [(100 * step.day / 55, 100 - 100 * step.still_waiting) for step in summary.curve[1:]]
    found = corners(curve_chart(summary), "curve-line")
    assert found[0] == (0, 0) and found[2:-2:2] == near(falls)
    assert found[1::2][:-1] == near([(x, y) for (x, _), (_, y) in zip(falls, [(0, 0), *falls], strict=False)])
    assert found[-1][0] == 100


def test_the_band_runs_along_both_limits():
    steps = sample.curve()[1:]
    found = corners(curve_chart(sample.summary()), "spread")
    for step in steps:
        x = pytest.approx(100 * step.day / 55, abs=0.06)
        assert (x, pytest.approx(100 - 100 * step.upper, abs=0.06)) in found
        assert (x, pytest.approx(100 - 100 * step.lower, abs=0.06)) in found


def test_the_median_runs_from_the_curve_down_to_its_day_and_says_it():
    chart = curve_chart(sample.summary())
    down, from_axis = corners(chart, "drop")[:2], corners(chart, "drop")[-2:]
    assert down == [(40, 50), (40, 100)] and from_axis == [(0, 50), (40, 50)]
    assert words(chart)["half by day 22"] == (40, 0)
    assert words(chart)["92\N{NO-BREAK SPACE}% by day 51"][0] == pytest.approx(92.7)


@pytest.mark.parametrize(
    ("median", "most", "anchors"),
    [(22, 51, ["middle", "end"]), (20, 30, ["end", "start"]), (2, 8, ["start", "middle"]), (45, 53, ["middle", "end"])],
)
def test_words_of_two_days_do_not_touch(median, most, anchors):
    chart = curve_chart(sample.summary(median=Day(median, 1, None), centile_92=Day(most, 1, None)))
    said = [each for each in plot(chart).iter("text") if "by day" in (each.text or "")]
    assert [each.get("text-anchor") for each in said] == anchors
    rows = {each.get("dy") for each in said}
    assert len(rows) == 2 or most - median > 20 or anchors == ["end", "start"]


def test_what_is_not_reached_is_not_drawn():
    chart = curve_chart(sample.summary(median=sample.NOT_REACHED, centile_92=sample.NOT_REACHED))
    assert corners(chart, "drop") == [] and "by day" not in "".join(words(chart))
    assert "half not reached by the last day" in chart


def test_the_numbers_watched_stand_below_their_days():
    found = words(curve_chart(sample.summary()))
    assert [found[number] for number in ("84", "54", "22", "10")] == near(
        [(0, 100), (25.5, 100), (50.9, 100), (76.4, 100)]
    )


def test_each_day_on_which_somebody_left_unseen_has_a_notch_on_the_curve():
    data = plot(curve_chart(sample.summary())).find(".//path[@class='left']")
    assert data is not None
    found = re.findall(r"M([\d.]+) ([\d.]+)v2.6", data.attrib["d"])
    assert [float(x) for x, _ in found] == pytest.approx([100 * day / 55 for day, _ in sample.summary().left], abs=0.06)
    assert float(found[0][1]) + 1.3 == pytest.approx(100 - 100 * sample.curve()[1].still_waiting, abs=0.1)


def test_where_fewer_than_five_are_left_the_line_is_dotted():
    chart = curve_chart(sample.summary(tail=Tail(55, 44, None, None)))
    assert corners(chart, "curve-line")[-1] == corners(chart, "curve-line few")[0]
    assert corners(chart, "curve-line few")[0][0] == 80


def test_the_period_before_is_a_line_of_its_own_kind_and_is_named():
    chart = curve_chart(sample.summary(), sample.before())
    assert corners(chart, "earlier")[2] == pytest.approx(
        (100 * 3 / 55, 100 - 100 * sample.before().curve[1].still_waiting), abs=0.06
    )
    assert "February 2026: half by day 15" in chart
    assert corners(curve_chart(sample.summary(), sample.few()), "earlier") == []


def test_a_curve_on_which_nobody_was_seen_is_level():
    nobody = sample.summary(curve=(), incidence={}, median=sample.NOT_REACHED, centile_92=sample.NOT_REACHED)
    assert {y for _, y in corners(curve_chart(nobody), "curve-line")} == {0}
    assert corners(curve_chart(nobody), "spread") == []


def test_the_curve_says_its_numbers():
    said = plot(curve_chart(sample.summary(), sample.before())).attrib["aria-label"]
    assert said == (
        "Share still waiting, day by day, March 2026: half by day 22 (95 % limits 17 to 26), "
        "92 in 100 by day 51 (95 % limits 51 to no limit), of 84 waits of which 22 still wait. "
        "February 2026: half by day 15 (95 % limits 12 to 22), "
        "92 in 100 by day 41 (95 % limits 41 to no limit). "
        "Watched: 84 on day 0, 54 on day 14, 22 on day 28, 10 on day 42."
    )


def test_the_curve_of_a_year_stays_small():
    shares = [(day, 0.9925**day) for day in range(366)]
    steps = tuple(Step(day, 99_999, 9, share, 0.01, share * 0.98, share**0.9) for day, share in shares)
    year = sample.summary(
        curve=steps, tail=Tail(365, 360, None, None), left=tuple((day, 1) for day in range(366)),
        at_risk=tuple((day, 99_999) for day in range(0, 366, 56)),
    )  # fmt: skip
    assert len(curve_chart(year, year).encode()) < 20 * 1024


@pytest.mark.parametrize(
    "empty",
    [
        curve_chart(sample.few(), sample.before()), trend_chart(Trend((), None)),
        flow_chart(Flow((), None, None, None, None)), funnel_chart(None, {}),
        funnel_chart(Funnel((), 0.5, (), {"a": 2}, None), {}), ends_chart(sample.few()), slippage_chart(None),
        ends_chart(sample.summary(incidence={})), slippage_chart(sample.slippage()._replace(by_day=())),
    ],
)  # fmt: skip
def test_without_figures_there_is_no_chart(empty):
    assert empty == ""


def test_each_week_has_its_share_at_its_place_and_what_it_signals_as_a_shape():
    chart, points = trend_chart(sample.trend()), sample.trend().points
    for shape, signal in (("dot", ""), ("beyond", Signal.BEYOND), ("run", Signal.RUN)):
        wanted = [
            (100 * (place + 0.5) / 12, 100 - 100 * point.share)
            for place, point in enumerate(points)
            if point.share is not None and point.signal == signal
        ]
        assert marks(chart, shape) == near(wanted)
    assert words(chart)["15\N{NO-BREAK SPACE}%"] == pytest.approx((87.5, 84.6), abs=0.06)


def test_no_line_and_no_limits_run_over_a_week_in_which_nothing_fell_due():
    found = plot(trend_chart(sample.trend()))
    for kind in ("through", "limits"):
        data = found.find(f".//path[@class='{kind}']")
        assert data is not None and data.attrib["d"].count("M") == 2
    (first, *_), last = (
        corners(trend_chart(sample.trend()), "limits"),
        corners(trend_chart(sample.trend()), "limits")[-1],
    )
    assert first == (0, 3) and last[1] == 77


@pytest.mark.parametrize(("below", "drawn"), [(7, 0), (8, 8), (9, 9)])
def test_a_run_is_drawn_thick_from_its_first_point(below, drawn):
    week = sample.trend().points[0]._replace(number=1, of=4, share=0.25, signal="")
    high = week._replace(share=0.75)
    chart = trend_chart(Trend((high, *[week] * below, high), 0.5))
    assert len(corners(chart, "through run-line")) == drawn


def test_who_was_seen_each_week_lies_on_a_scale_from_0():
    chart = flow_chart(sample.flow())
    seen = [point.seen for point in sample.flow().points]
    assert [y for _, y in marks(chart, "dot")] == pytest.approx([100 - 5 * each for each in seen if each != 5])
    assert marks(chart, "beyond") == near([(87.5, 75)])
    assert {y for _, y in corners(chart, "limits")} == {18.5, 71.5}
    assert words(chart)["20"] == (0, 0) and words(chart)["0"] == (0, 100)


def test_the_scale_names_what_was_waited_for():
    chart = flow_chart(sample.flow(), "stitches out")
    assert "Stitches out" in words(chart) and "Stitches out, mean 11:" in chart


@pytest.mark.parametrize(("number", "named"), [(1, 1), (12, 12), (53, 11)])
def test_as_many_weeks_are_named_as_there_is_room_for_and_half_of_them_on_a_telephone(number, named):
    point = sample.flow().points[0]
    points = tuple(point._replace(period=week) for week in sample.weeks(number=number))
    texts = [
        each for each in plot(flow_chart(Flow(points, 11.0, 5.0, 17.0, 2.0))).iter("text") if each.get("dy") == "1.6em"
    ]
    always = [each for each in texts if "wide-only" not in each.attrib["class"]]
    assert (len(texts), len(always)) == (named, -(-named // 2))


def test_months_are_named_as_months_and_each_year_once():
    first = date(2025, 11, 1)
    months = [sample.MARCH.__class__(day, last) for day, last in (
        (first, date(2025, 11, 30)), (date(2025, 12, 1), date(2025, 12, 31)), (date(2026, 1, 1), date(2026, 1, 31)),
    )]  # fmt: skip
    points = tuple(sample.flow().points[0]._replace(period=month) for month in months)
    found = words(flow_chart(Flow(points, 11.0, None, None, None)))
    assert [name for name in found if name in ("Nov", "Dec", "Jan", "2025", "2026")] == [
        "Nov",
        "2025",
        "Dec",
        "Jan",
        "2026",
    ]
    assert found["2026"][0] == found["Jan"][0]


def test_a_trend_says_its_numbers():
    said = plot(trend_chart(sample.trend())).attrib["aria-label"]
    assert said.startswith("Within target, mean 60\N{NO-BREAK SPACE}%: from Mon 5 Jan 2026 82\N{NO-BREAK SPACE}%, ")
    assert "from Mon 26 Jan 2026 nothing due" in said and "15\N{NO-BREAK SPACE}% (beyond the limits)" in said
