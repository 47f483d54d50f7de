"""Charts of groups, of ends and of slippage, read back from the drawing. The rules for them are our own."""

import re

import pytest

from caseload.waits.figures import Funnel, FunnelPoint, Reached, Share, Slippage
from caseload.web.charts.frame import counts, spacing
from caseload.web.wait_charts import ends_chart, funnel_chart, letters, slippage_chart
from caseload.wording.waits import say_share
from tests.waits import sample
from tests.web.drawn import corners, marks, near, parsed, plot, walked, words
from tests.web.drawn import percent as read

NAMES = {"fernhollow": "Fernhollow", "quay-street": "Quay Street"}


def test_a_group_stands_at_its_size_and_share_and_beyond_is_a_shape():
    chart = funnel_chart(sample.funnel(), NAMES)
    across = 44 * 1.1
    assert marks(chart, "dot") == near([(100 * 44 / across, 100 - 31.82)])
    assert marks(chart, "beyond") == near([(100 * 20 / across, 20)])
    outer = corners(chart, "limit outer")
    assert (pytest.approx(100 * 20 / across, abs=0.06), pytest.approx(85)) in outer
    assert len(corners(chart, "limit")) == len(outer) == 6


def group(key: str, of: int, share: float, beyond: str = "") -> FunnelPoint:
    return FunnelPoint(
        key, Share(round(of * share), of, share, 0.1, 0.9), 0.2, 0.8, 0.1, 0.9, beyond, beyond and "above"
    )


def test_names_are_escaped():
    chart = funnel_chart(Funnel((group("a", 30, 0.5),), 0.5, (), {}, None), {"a": '<b>"Mill" & Lane'})
    assert '<b>"Mill" & Lane' in words(chart) and "<b>" not in chart
    assert 'Mill" &' not in chart


def test_where_names_would_touch_a_letter_stands_for_them_in_the_order_of_the_groups():
    crowd = tuple(group(f"s{place:02}", 30 + place, 0.5, "99.8" if place == 9 else "") for place in range(28))
    funnel = Funnel(crowd, 0.5, (), {}, None)
    named = {point.key: f"Surgeon number {point.key}" for point in crowd}
    assert list(letters(funnel, named).values())[-3:] == ["Z", "AA", "AB"]
    drawn = [(each.text or "", each.get("class", "")) for each in plot(funnel_chart(funnel, named)).iter("text")]
    narrow = [said for said, kind in drawn if "narrow-only" in kind]
    assert narrow[0] == "Surgeon number s09" and set(narrow[1:]) < set(letters(funnel, named).values()) | set(
        named.values()
    )
    assert len(narrow) < len(crowd)


def test_the_funnel_says_each_group_and_what_is_beyond():
    said = plot(funnel_chart(sample.funnel(), NAMES)).attrib["aria-label"].replace("\N{NO-BREAK SPACE}", " ")
    assert said == (
        "Within target, all together 46 %: Fernhollow 32 % of 44; Quay Street 80 % of 20, above the 99.8 % limits."
    )


def test_ends_stack_to_the_whole_on_every_day():
    chart = ends_chart(sample.summary())
    edges = [walked(each.attrib["d"]) for each in plot(chart).findall("svg/path[@class='edge']")]
    assert [edge[-1][1] for edge in edges] == [0, 23, 25, 30]
    seen, both = edges[3], edges[2]
    assert (pytest.approx(100 * 26 / 55, abs=0.06), 44) in seen
    assert (pytest.approx(100 * 26 / 55, abs=0.06), 39) in both


def test_ends_are_told_apart_by_hatches_and_by_their_words():
    ends = {word: (Reached(3 + place, 0.08),) for place, word in enumerate(("seen", "declined", "died", "transferred"))}
    chart = ends_chart(sample.summary(incidence=ends))
    hatches = [each.attrib["d"] for each in plot(chart).iter("path") if each.get("class") == "hatch"]
    assert len(set(hatches)) == 3
    key = ["".join(each.itertext()) for each in parsed(chart).iter("li")]
    shares = [f"{word} {say_share(0.08)}" for word in ("died", "transferred", "declined by the patient", "seen")]
    assert key[0] == f"still waiting {say_share(0.68)}" and sorted(key[1:]) == sorted(shares) and key[-1] == shares[-1]
    assert "still waiting" in words(chart) and "died" in words(chart)


def test_what_was_waited_for_has_the_word_of_its_clock():
    chart = ends_chart(sample.summary(), "wound closed")
    assert "wound closed" in words(chart) and "seen" not in words(chart)


def test_an_area_is_named_inside_it_and_a_thin_one_in_the_key_alone():
    chart = ends_chart(sample.summary())
    x, y = words(chart)["seen"]
    assert x > 50 and 30 < y < 100
    assert words(chart)["still waiting"][1] < 60 and "discharged unseen" not in words(chart)


def test_two_charts_of_ends_on_a_page_do_not_share_an_id():
    one, two = ends_chart(sample.summary()), ends_chart(sample.summary(incidence={"seen": (Reached(3, 0.5),)}))
    ids = [re.findall(r' id="([^"]+)"', chart) for chart in (one, two)]
    assert len({*ids[0], *ids[1]}) == len(ids[0]) + len(ids[1]) > 8
    assert set(re.findall(r"url\(#([^)]+)\)", one)) == set(ids[0])


def bars(chart: str, kind: str) -> list[tuple[float, float, float, float]]:
    """(left, width, top, height) in per cent."""
    found = (each for each in plot(chart).iter("rect") if each.get("class") == kind)
    return [tuple(read(each, name) for name in ("x", "width", "y", "height")) for each in found]


def test_a_bar_stands_at_its_day_as_high_as_its_number():
    chart = slippage_chart(sample.slippage()._replace(overdue=0))
    assert bars(chart, "bar")[1] == pytest.approx(
        (100 * 4.1 / 14, 100 * 0.8 / 14, 100 - 1400 / 15, 1400 / 15), abs=0.06
    )
    assert len(bars(chart, "bar")) == len(bars(chart, "bar out")) == 4
    assert bars(chart, "window") == [pytest.approx((100 * 2 / 14, 100 * 5 / 14, 0, 100), abs=0.06)]
    assert words(chart)["target day"][0] == pytest.approx(100 * 4.5 / 14, abs=0.06)


def test_those_outside_their_window_stand_hollow_on_those_inside():
    chart = slippage_chart(Slippage(0, 6, 4, 0, 0, 0, ((4, 10),), ((4, 4),), ((-2, 2), (-2, 7))))
    ((_, _, top, height),), ((_, _, above, over),) = bars(chart, "bar"), bars(chart, "bar out")
    assert (top, height, above, over) == (40, 60, 0, 40)
    assert len(bars(chart, "window")) == 2 and "window, −2 to +2 or −2 to +7 days" in chart


def test_stitches_still_in_after_the_window_are_a_bar_of_their_own():
    ((left, width, top, height),) = bars(slippage_chart(sample.slippage()), "bar open")
    assert left + width == 100 and height == pytest.approx(100 * 4 / 15, abs=0.06)
    assert words(slippage_chart(sample.slippage()))["4 still in"] == (100, pytest.approx(top))
    assert bars(slippage_chart(sample.slippage()._replace(overdue=0)), "bar open") == []


def test_slippage_says_its_numbers():
    said = plot(slippage_chart(sample.slippage())).attrib["aria-label"]
    assert said == (
        "Stitches out by days from the target: 4 days before 1, 3 days before 1, 1 day before 6, on the target day 14, "
        "1 day after 7, 2 days after 3, 4 days after 4, 9 days after 2. Before the window 2, inside it 30, after it 6; "
        "4 still in after it."
    )


@pytest.mark.parametrize(
    ("span", "step"), [(0, 1), (7, 1), (8, 2), (30, 5), (55, 7), (100, 14), (223, 28), (224, 56), (1500, 196)]
)
def test_days_are_marked_in_steps_that_people_count_in(span, step):
    assert spacing(span, 8) == step


@pytest.mark.parametrize(
    ("highest", "ticks"),
    [(0, [0, 1]), (1, [0, 1]), (4, [0, 1, 2, 3, 4]), (5, [0, 2, 4, 6]), (16.3, [0, 5, 10, 15, 20]), (90, [0, 50, 100])],
)
def test_numbers_are_marked_from_0_to_above_the_highest(highest, ticks):
    assert counts(highest) == ticks
