"""Small charts of what was measured: what they draw and what they say. The rules for them are our own."""

import re
from datetime import date, timedelta

import pytest

from caseload.measures.terms import Quantity, Whole
from caseload.reads.measured import Point, Series
from caseload.web.measure_chart import FOOT, HEAD, charts
from tests.wording.test_waits import kept

SURGERY = date(2026, 3, 20)


def series(*values: float, quantity: Quantity = Quantity.PAIN, step: int = 7, **own) -> Series:
    days = (SURGERY + timedelta(days=13 + step * place) for place in range(len(values)))
    return Series(quantity, tuple(map(Point, days, values)), **own)


def drawn(*values: float, **own) -> str:
    (chart,) = charts([series(*values, **own)], SURGERY)
    return chart.drawing


def heights(drawing: str) -> list[float]:
    return [float(y) for y in re.findall(r'<circle [^>]*cy="([\d.]+)"', drawing)]


def written(drawing: str) -> list[str]:
    return re.findall(r'dy="-9"[^>]*>([^<]+)<', drawing)


def test_one_value_makes_no_chart():
    assert charts([series(5), series(5, 3, quantity=Quantity.GRIP)], SURGERY)[0].title == "Grip"


def test_a_scale_reaches_from_its_lowest_to_its_highest():
    assert heights(drawn(0, 10)) == [FOOT, HEAD]
    assert heights(drawn(0, 100, quantity=Quantity.DISABILITY)) == [FOOT, HEAD]


def test_a_share_above_100_or_below_0_stretches_its_scale():
    found = heights(drawn(50, 125, quantity=Quantity.MOTION))
    assert found[1] == HEAD and found[0] == pytest.approx(FOOT - 0.4 * (FOOT - HEAD), abs=0.1)
    assert heights(drawn(-25, 100, quantity=Quantity.MOTION)) == [FOOT, HEAD]


def test_every_chart_spans_the_same_days():
    long, short = charts([series(5, 4, 3), series(5, 3, quantity=Quantity.GRIP)], SURGERY)
    first = [re.search(r'<circle class="at" cx="([\d.]+)%', chart.drawing)[1] for chart in (long, short)]
    assert first[0] == first[1]
    assert all("day 13</text>" in chart.drawing and "day 27</text>" in chart.drawing for chart in (long, short))


def test_few_values_are_all_written_and_of_many_those_that_matter():
    assert written(drawn(5, 4, 3, 2, 1)) == ["5", "4", "3", "2", "1"]
    assert written(drawn(5, 7, 3, 4, 1, 2)) == ["5", "7", "1", "2"]


def test_two_values_of_one_day_are_drawn():
    drawing = drawn(5, 3, step=0)
    assert len(heights(drawing)) == 2 and drawing.count("day 13</text>") == 1


def test_a_chart_is_a_picture_that_says_its_numbers():
    drawing = drawn(75.4, 90, quantity=Quantity.MOTION)
    first, then = ("Thu 2 Apr 2026 (day\N{NO-BREAK SPACE}13)", "Thu 9 Apr 2026 (day\N{NO-BREAK SPACE}20)")
    said = kept(f"Total active motion: 75.4 % on {first}, 90 % on {then}.")
    assert f'role="img" aria-label="{said}"' in drawing
    assert "style=" not in drawing


def test_without_a_surgery_date_days_are_dates():
    (chart,) = charts([series(5, 3)], None)
    assert "Thu 2 Apr 2026</text>" in chart.drawing and "day" not in chart.drawing


@pytest.mark.parametrize(("whole", "said"), [(Whole.OTHER, "% of the other hand's"), (Whole.USUAL, "% of the usual")])
def test_a_share_says_of_what(whole: Whole, said: str):
    (chart,) = charts([series(80, 90, quantity=Quantity.MOTION, whole=whole)], SURGERY)
    assert chart.reading.startswith(said)
