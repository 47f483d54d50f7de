"""A month as it was filed, read as it was written, and what later entries make of it.

The month and its waits are made up; that a filed figure never changes and that later entries stand beside it with what
moved it is common practice in returns of waiting times (from memory).
"""

import json
from dataclasses import replace
from datetime import date, timedelta
from math import inf

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from caseload.waits.bodies import read, write
from caseload.waits.clocks import Targets
from caseload.waits.figures import Compared, Day, Figures, Flow, Group, Groups, Share, Slippage, Step, Summary
from caseload.waits.filed import Counted, Filed, as_at, waits_of
from caseload.waits.restated import Told, moves, restated
from caseload.waits.rows import Period
from caseload.waits.terms import Clock, End

OCTOBER = Period(date(2026, 10, 1), date(2026, 10, 31))
NOBODY = Day(None, None, None)
DAYS = st.dates(date(2026, 8, 1), date(2026, 12, 31))
STEPS = st.builds(Step, *[st.integers(0, 400)] * 3, *[st.floats(0, 1)] * 4)
COMPARED = st.builds(
    Compared, st.floats(0, 50), st.integers(1, 9), st.floats(0, 1), st.just({"a": 3}), st.just({"a": 0.1})
)


def summary(**said) -> Summary:
    own = {
        "period": OCTOBER, "at_start": 3, "began": 4, "seen": 5, "competing": {"died": 1}, "waiting": 1, "refused": "",
        "curve": (Step(9, 7, 5, 0.5, 0.1, 0.2, 0.8),), "median": Day(9, 4, None), "centile_92": NOBODY,
        "restricted_mean": 8.25, "incidence": {}, "completed_median": 8.0, "completed_92": 9.5,
        "within": Share(3, 4, 0.75, 0.3, 0.95), "within_completed": Share(4, 5, 0.8, 0.4, 0.96),
    }  # fmt: skip
    return Summary(**(own | said))


def figures(now: Summary | None = None, sites: tuple[Group, ...] = ()) -> Figures:
    groups = {"site": Groups(sites, None, None)} if sites else {}
    out = Slippage(1, 2, 0, 1, 0, 0, ((-1, 1), (0, 2)))
    flow = Flow((), None, None, None, None)
    return Figures(Clock.STITCHES_OUT, now or summary(), summary(), None, None, flow, groups, out)


def wait(**said) -> Counted:
    own = {"clock": Clock.STITCHES_OUT, "of": "e1", "key": "stitches-out", "started_on": date(2026, 10, 2)}
    return Counted(**(own | {"ended": End.WAITING} | said))


def filed(*waits: Counted, **said) -> Filed:
    own = {
        "month": OCTOBER, "rules": ("two-week 1",), "targets": Targets(), "names": {"s1": "Fernhollow"},
        "figures": {Clock.STITCHES_OUT: figures()},
    }  # fmt: skip
    return Filed(waits=waits, **(own | said))


def seen(on: date, **said) -> Counted:
    return wait(stopped_on=on, ended=End.SEEN, **said)


def test_a_filed_month_is_read_as_it_was_written():
    month = filed(wait(due_on=date(2026, 10, 20)), seen(date(2026, 10, 9), of="e2", site="s1", surgeon="Dr Vane"))
    assert Filed.from_json(json.loads(json.dumps(month.to_json()))) == month


@settings(max_examples=30)
@given(st.tuples(STEPS, STEPS), st.none() | COMPARED, st.none() | DAYS)
def test_figures_come_back_from_json_exactly_as_they_were(curve, change, on):
    made = figures(summary(curve=curve))._replace(change=change)
    assert read(Figures, json.loads(json.dumps(write(made)))) == made
    assert read(Counted, write(wait(due_on=on))).due_on == on


def test_a_whole_number_that_was_a_float_stays_a_float():
    # PostgreSQL keeps 8.0 as it is; other stores may hand out 8.
    back = read(Summary, write(summary()) | {"completed_median": 8})
    assert isinstance(back.completed_median, float)


def test_a_field_that_came_later_is_left_to_its_default():
    older = {name: value for name, value in write(summary()).items() if name != "tail"}
    assert read(Summary, older).tail is None


@pytest.mark.parametrize(("field", "value"), [("seen", "5"), ("median", 9), ("period", None), ("waiting", 1.5)])
def test_a_body_of_another_kind_is_not_read(field, value):
    with pytest.raises((TypeError, ValueError, KeyError)):
        read(Summary, write(summary()) | {field: value})


def test_what_has_no_form_is_not_written():
    with pytest.raises(TypeError, match="object has no form"):
        write({"odd": object()})


def test_a_month_of_an_unknown_shape_is_not_read():
    with pytest.raises(ValueError, match="shape 2 cannot be read"):
        Filed.from_json(filed().to_json() | {"shape": 2})


def test_nothing_moved_where_both_are_alike():
    assert restated(filed(wait()), filed(wait())).nothing


@given(st.integers(0, 60), DAYS, DAYS, DAYS)
def test_what_happens_after_the_month_moves_nothing(later, due, missed, restarted):
    open_still = wait(due_on=due, target_on=due, missed_on=missed, restarted_on=max(missed, restarted))
    stop = OCTOBER.last + timedelta(days=1 + later)
    gone_on = open_still._replace(stopped_on=stop, ended=End.SEEN, earliest_on=date(2026, 10, 5))
    assert as_at(gone_on, OCTOBER.last) == as_at(open_still, OCTOBER.last)


def test_a_miss_and_a_new_booking_after_the_month_are_not_known_in_it():
    missed = wait(missed_on=date(2026, 10, 30), restarted_on=date(2026, 11, 2))
    assert as_at(missed, OCTOBER.last).missed_on == date(2026, 10, 30)
    assert as_at(missed, OCTOBER.last).restarted_on is None


def test_a_wait_that_is_over_keeps_a_target_beyond_the_month():
    out = seen(date(2026, 10, 30), due_on=date(2026, 11, 3), target_on=date(2026, 11, 1))
    assert as_at(out, OCTOBER.last) == out


@pytest.mark.parametrize(
    ("said", "bears"),
    [
        ({}, True),
        ({"started_on": date(2026, 11, 1)}, False),
        ({"started_on": date(2026, 10, 31)}, True),
        ({"started_on": date(2026, 8, 1), "stopped_on": date(2026, 9, 30)}, False),
        ({"started_on": date(2026, 8, 1), "stopped_on": date(2026, 10, 1)}, True),
        ({"started_on": date(2026, 8, 1), "entered_on": date(2026, 11, 1)}, False),
        ({"started_on": date(2026, 8, 1), "stopped_on": date(2026, 9, 30), "due_on": date(2026, 10, 1)}, True),
        ({"started_on": date(2026, 8, 1), "stopped_on": date(2026, 9, 30), "target_on": date(2026, 10, 31)}, True),
        ({"started_on": date(2026, 8, 1), "stopped_on": date(2026, 9, 30), "due_on": date(2026, 11, 1)}, False),
    ],
)
def test_a_month_is_made_of_whoever_waited_in_it_or_fell_due_in_it(said, bears):
    made = wait(**({"ended": End.SEEN if "stopped_on" in said else End.WAITING} | said))
    assert waits_of([made], OCTOBER) == ((as_at(made, OCTOBER.last),) if bears else ())


def test_each_wait_that_is_new_gone_or_other_is_named():
    same, other = wait(of="same"), wait(of="other")
    now = other._replace(stopped_on=date(2026, 10, 20), ended=End.SEEN)
    found = moves([same, other, wait(of="gone")], [same, now, wait(of="new", started_on=date(2026, 10, 1))])
    assert [(each.wait.of, each.was is None, each.now is None) for each in found] == [
        ("new", True, False), ("gone", False, True), ("other", False, False),
    ]  # fmt: skip
    assert [each.fields for each in found] == [(), (), ("ended", "stopped_on")]
    assert [each.days for each in found] == [{date(2026, 10, 1)}, {date(2026, 10, 2)}, {date(2026, 10, 20)}]


def test_a_target_day_that_moved_is_named_unless_the_wait_only_stopped():
    due = wait(due_on=date(2026, 10, 20))
    assert moves([due], [due._replace(due_on=date(2026, 10, 22))])[0].fields == ("due_on",)
    assert moves([wait()], [seen(date(2026, 10, 9), due_on=date(2026, 11, 2))])[0].fields == ("ended", "stopped_on")


def test_the_figures_stand_side_by_side_with_what_lies_between():
    now = figures(summary(seen=6, waiting=0, median=Day(8, 4, 9)))
    lines = {
        line.figure: line
        for line in restated(filed(), filed(figures={Clock.STITCHES_OUT: now})).lines[Clock.STITCHES_OUT]
    }
    assert (lines[Told.MEDIAN].filed, lines[Told.MEDIAN].now, lines[Told.MEDIAN].by) == (9, 8, -1)
    assert {figure for figure, line in lines.items() if line.moved} == {Told.SEEN, Told.WAITING, Told.MEDIAN}


def test_what_could_not_be_said_then_and_can_now_has_moved_by_no_number():
    now = figures(summary(centile_92=Day(20, 9, None), within=None))
    lines = restated(filed(), filed(figures={Clock.STITCHES_OUT: now})).lines[Clock.STITCHES_OUT]
    assert [(line.figure, line.by) for line in lines if line.moved] == [(Told.CENTILE_92, None), (Told.WITHIN, None)]


def test_a_curve_that_is_not_reached_on_either_side_has_not_moved_and_too_few_cannot_be_said():
    few = figures(summary(refused="too-few", median=NOBODY, within=None))
    lines = {line.figure: line for line in restated(filed(), filed(figures={Clock.STITCHES_OUT: few})).lines[few.clock]}
    assert (lines[Told.CENTILE_92].filed, lines[Told.CENTILE_92].now) == (inf, None)
    assert not next(line for line in restated(filed(), filed()).lines[few.clock] if line.filed == inf).moved


def test_a_share_that_two_machines_round_apart_has_not_moved():
    other = figures(summary(within=Share(3, 4, 0.75 + 1e-15, 0.3, 0.95)))
    assert restated(filed(), filed(figures={Clock.STITCHES_OUT: other})).nothing


def test_sites_stand_below_all_and_a_new_one_beside_nothing():
    quay = Group("s2", 5, 4, 1, "", Day(7, 3, 9), NOBODY)
    lines = restated(filed(), filed(figures={Clock.STITCHES_OUT: figures(sites=(quay,))})).lines[Clock.STITCHES_OUT]
    assert [(line.figure, line.filed, line.now) for line in lines if line.site == "s2"] == [
        (Told.SEEN, None, 4), (Told.WAITING, None, 1), (Told.MEDIAN, None, 7), (Told.CENTILE_92, None, inf),
    ]  # fmt: skip


def test_a_target_and_rules_that_changed_are_said():
    now = replace(filed(), targets=Targets(first_visit=10, wound_closed=None), rules=("two-week 2",))
    found = restated(filed(), now)
    assert found.targets == {"first_visit": (14, 10), "wound_closed": (21, None)}
    assert found.rules == (("two-week 1",), ("two-week 2",))
    assert not found.nothing


def test_whoever_is_named_keeps_the_name_of_today():
    now = replace(filed(), names={"s1": "Fernhollow House", "s2": "Quay Street"})
    assert restated(filed(), now).names == {"s1": "Fernhollow House", "s2": "Quay Street"}
