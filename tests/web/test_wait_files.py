"""The figures as one long table: everything that the page says, with its method, safe to open in a spreadsheet."""

import csv
from io import StringIO

import pytest
from django.test import RequestFactory

from caseload.models import Look
from caseload.reads.waits import Asked
from caseload.waits.audit import METHODS
from caseload.waits.terms import Clock
from caseload.web.wait_files import HEADERS, SIGNALS, Cell, cells, figures_file
from tests.waits import sample

NAMED = {"fernhollow": "Fernhollow", "quay-street": "Quay Street", "mill-lane": "=Mill Lane"}


def all_cells(**own) -> list[Cell]:
    return list(cells(sample.figures(methods=METHODS, **own), NAMED))


def of(figure: str, found: list[Cell]) -> list[Cell]:
    return [cell for cell in found if cell.figure == figure]


def test_the_counts_of_a_period_add_up_in_the_file():
    now = {cell.figure: cell.number for cell in all_cells() if cell.period == sample.MARCH and not cell.group}
    others = sum(number for figure, number in now.items() if figure.startswith("ended otherwise"))
    assert now["waits"] == now["waiting at the start"] + now["began"] == 84
    assert now["seen"] + others + now["waiting at the end"] == 84


def test_truth_and_what_misleads_stand_in_it_with_their_methods():
    found = all_cells()
    (now, before), (only, _) = of("median", found), of("median of those seen only", found)
    assert (now.value, now.lower, now.upper, before.value) == (22, 17, 26, 15)
    assert (now.method, only.method) == (METHODS["centile"], METHODS["completed"])


def test_every_step_point_and_group_of_the_page_has_a_row():
    found, made = all_cells(), sample.figures()
    steps = [cell for cell in found if cell.figure.startswith("share still")]
    assert len(steps) == len(made.now.curve + made.before.curve)
    assert [cell.signal for cell in of("trend: within target", found)][-2:] == list(SIGNALS.values())[1:]
    assert [cell.number for cell in of("flow: seen, around the mean", found)] == [p.seen for p in made.flow.points]
    assert {cell.group for cell in of("waits, by site", found)} == set(NAMED.values())


def test_a_funnel_has_both_limits_of_each_and_names_who_is_too_small():
    found = all_cells()
    wide = of("within target, by site, limits of 99.8 %", found)[1]
    assert (wide.group, wide.number, wide.of_how_many, wide.lower) == ("Quay Street", 16, 20, 0.15)
    (small,) = of("within target, by site, too few to be shown", found)
    assert (small.group, small.number) == ("=Mill Lane", 3)


def test_too_few_for_a_curve_leave_their_cells_empty():
    found = all_cells(now=sample.few(), before=sample.few(), change=None, trend=None, groups={})
    assert not [cell for cell in found if cell.figure.startswith("share still")]
    assert [cell.value for cell in of("median", found)] == [None, None]


def test_slippage_is_counted_by_days_from_the_target():
    found = all_cells(slippage=sample.slippage())
    by_day = of("stitches out by days from the target", found)
    assert (by_day[0].day, by_day[0].number) == (-4, 1)
    assert [cell.number for cell in of("stitches out after the window", found)] == [6]


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_it_is_taken_away_under_the_name_of_the_clock_and_that_is_recorded(clinic, kind):
    request = RequestFactory().post("/waits/", {"kind": kind})
    request.user = clinic.lead
    made = figures_file(request, Asked(Clock.FIRST_VISIT, sample.MARCH), sample.figures())
    assert f"waits-first-visit-2026-04-01.{kind}" in made["Content-Disposition"]
    assert Look.objects.get(by=clinic.lead).rows == len(all_cells())
    if kind == "csv":
        assert next(csv.reader(StringIO(made.content.decode("utf-8-sig")))) == list(HEADERS)


def test_a_name_that_begins_like_a_formula_is_text_in_the_file(clinic):
    clinic.site.name = "=Fernhollow"
    clinic.site.save()
    request = RequestFactory().post("/waits/", {"kind": "csv"})
    request.user = clinic.lead
    point = sample.groups().groups[0]._replace(key=clinic.site.code)
    groups = {"site": sample.groups()._replace(groups=(point,), compared=None, funnel=None)}
    made = figures_file(request, Asked(Clock.FIRST_VISIT, sample.MARCH), sample.figures(groups=groups))
    assert '"\'=Fernhollow"' in made.content.decode()
