"""Need against room: nothing is counted twice, nothing that fits is left out, stitches come before reviews."""

from datetime import date, timedelta
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_flow

from caseload.booking import room_program
from caseload.booking.room import LATE_WITHIN, Room, Visit, Why, best_of, fit, from_today, one_more
from caseload.booking.sharpening import Sharpened
from caseload.timetable.terms import FollowUpKind as Kind

MONDAY = date(2026, 4, 13)
STITCHES, REVIEW = frozenset({Kind.STITCHES_OUT}), frozenset({Kind.OUTCOME_REVIEW})


def day(number: int) -> date:
    return MONDAY + timedelta(days=number)


def visit(first: int, last: int, number: int = 1, *, kinds=STITCHES, slots: int = 1, site: int = 1, **own) -> Visit:
    return Visit(kinds, day(first), day(last), slots, site, number, **own)


def room(on: int, free: int, *takes: Kind, site: int = 1) -> Room:
    return Room(day(on), site, frozenset(takes), free)


def test_whoever_has_to_be_seen_first_gets_the_room_of_the_day():
    found = fit([visit(0, 3), visit(0, 0)], [room(0, 1), room(3, 1)])
    assert [(each.on, each.visit.last) for each in found.placed] == [(day(0), day(0)), (day(3), day(3))]
    assert not found.short and found.left == {(day(0), 1): 0, (day(3), 1): 0}


def test_stitches_find_a_place_before_reviews_that_end_sooner():
    found = fit([visit(0, 0, kinds=REVIEW), visit(0, 1)], [room(0, 1)])
    assert [each.visit.kinds for each in found.placed] == [STITCHES]
    assert [(each.visit.kinds, each.why) for each in found.short] == [(REVIEW, Why.FULL)]


def test_a_visit_without_a_session_of_its_kind_in_its_window_says_so():
    found = fit([visit(0, 1, 3)], [room(0, 9, Kind.OUTCOME_REVIEW), room(5, 9)])
    assert [(each.number, each.why) for each in found.short] == [(3, Why.NO_SESSION)] and found.missing == 3


def test_what_takes_everything_is_kept_for_what_needs_it():
    found = fit([visit(0, 0), visit(0, 0, kinds=frozenset({Kind.WOUND_CHECK}))], [room(0, 1), room(0, 1, *STITCHES)])
    assert not found.short


def test_a_long_visit_needs_its_slots_in_one_session():
    found = fit([visit(0, 0, slots=2)], [room(0, 1), room(0, 1)])
    assert found.missing == 1 and found.left[day(0), 1] == 2


def test_free_slots_that_do_not_lie_one_after_the_other_hold_no_long_visit():
    apart = room(0, 4)._replace(stretches=(2, 1, 1))
    found = fit([visit(0, 0, 2, slots=2)], [apart])
    assert found.missing == 1 and found.left[day(0), 1] == 2


def test_more_find_a_place_than_by_counting_day_by_day():
    """Short ones that have to be seen first can still wait for the day on which only they fit."""
    wanted = [visit(0, 2, slots=2), visit(0, 1, 2)]
    found = fit(wanted, [room(0, 2), room(1, 2)._replace(stretches=(1, 1))])
    assert found.missing == 0 and [each.on for each in found.placed if each.visit.slots == 2] == [day(0)]


@pytest.mark.parametrize("in_time", [True, False])
def test_what_is_counted_as_fitting_and_does_not_is_seen_stretch_by_stretch(monkeypatch, in_time):
    """Two of three slots and three of four do not go into twice nine and two, though they add up to eighteen."""
    if not in_time:
        monkeypatch.setattr(room_program, "LIMIT", 0.0)
    held = room(0, 20)._replace(stretches=(2, 9, 9))
    found = fit([visit(0, 0, 2, slots=3), visit(0, 0, 3, slots=4)], [held])
    assert found.missing == 1


def test_of_too_many_ways_nothing_is_proven_and_like_is_held_against_like(monkeypatch):
    monkeypatch.setattr(room_program, "MOST", 1)
    wanted, rooms = [visit(0, 2, slots=2), visit(0, 1, 2)], [room(0, 2), room(1, 2)._replace(stretches=(1, 1))]
    found = fit(wanted, rooms)
    assert (found.proven, found.missing) == (False, 1)
    assert one_more(wanted, rooms, room(2, 2), found).more == 1


def test_one_more_session_that_cannot_be_proven_is_counted_like_what_was_without_it(monkeypatch):
    wanted, rooms = [visit(0, 2, slots=2), visit(0, 1, 2)], [room(0, 2), room(1, 2)._replace(stretches=(1, 1))]
    before = fit(wanted, rooms)
    assert before.proven and not before.missing
    monkeypatch.setattr(room_program, "MOST", 1)
    gain = one_more(wanted, rooms, room(2, 2), before)
    assert (gain.more, gain.missing) == (1, 0)


def test_where_whole_numbers_do_not_reach_the_bounds_there_is_one_less():
    """Eight in all by every bound, and seven by every way there is."""
    review = frozenset({Kind.SET_REVIEW})
    wanted = [
        visit(2, 4, kinds=review), visit(1, 4, kinds=REVIEW, slots=3), visit(2, 5, 2, kinds=review, slots=2),
        visit(0, 1, 3, kinds=REVIEW), visit(0, 2, kinds=review, slots=4),
    ]  # fmt: skip
    both = (Kind.OUTCOME_REVIEW, Kind.SET_REVIEW)
    rooms = [room(1, 5)._replace(stretches=(2, 3)), room(2, 6, *both)._replace(stretches=(4, 2)), room(3, 5)]
    found = fit(wanted, rooms)
    assert found.proven and found.missing == 1


def test_a_bound_that_is_too_high_is_lowered_until_there_is_an_answer(monkeypatch):
    most = Sharpened.most
    monkeypatch.setattr(Sharpened, "most", lambda *asked: most(*asked) + 1)
    wanted, rooms = [visit(0, 2, slots=2), visit(0, 1, 2)], [room(0, 2), room(1, 2)._replace(stretches=(1, 1))]
    found = fit(wanted, rooms)
    assert found.proven and found.missing == 0


def test_bounds_end_where_those_before_leave_no_answer():
    nothing = SimpleNamespace(most=lambda of, rounds, known: None)
    assert room_program._bounds(nothing, SimpleNamespace(tiers=[None, None]), [1, 1, 0], []) == []


@pytest.mark.parametrize("rounds", [0, room_program.ROUNDS])
def test_visits_that_fit_in_one_way_only_are_all_placed(monkeypatch, rounds):
    """One of three slots and three of two into four and five: three and two, two and two."""
    monkeypatch.setattr(room_program, "ROUNDS", rounds)
    found = fit([visit(0, 0, slots=3), visit(0, 0, 3, slots=2)], [room(0, 9)._replace(stretches=(4, 5))])
    assert found.missing == 0


def test_a_day_of_many_visits_that_fit_in_one_way_only_is_not_tried_in_every_way():
    """1,000 times the above: as many levels of recursion would be too many."""
    wanted = [visit(0, 0, 1_000, slots=3), visit(0, 0, 3_000, slots=2)]
    found = fit(wanted, [room(0, 9_000)._replace(stretches=(4, 5) * 1_000)])
    assert found.missing == 0 or not found.proven


def test_what_may_still_be_seen_after_the_last_day_gives_way_and_is_not_short():
    found = fit([visit(0, 9), visit(0, 1)], [room(0, 1)], until=day(3))
    assert [each.visit.last for each in found.placed] == [day(1)] and not found.short
    assert len(fit([visit(0, 9), visit(0, 1)], [room(0, 2)], until=day(3)).placed) == 2


def test_sites_share_no_room():
    found = fit([visit(0, 0, site=1)], [room(0, 5, site=2)])
    assert [each.why for each in found.short] == [Why.NO_SESSION] and found.left == {(day(0), 2): 5}


def test_a_visit_that_is_late_has_to_be_seen_within_a_week_and_none_before_today():
    assert from_today(visit(-9, -2), MONDAY) == visit(0, LATE_WITHIN.days)
    assert from_today(visit(-9, 2), MONDAY) == visit(0, 2)
    assert from_today(visit(3, 4), MONDAY) == visit(3, 4)


def test_one_more_session_says_how_many_more_find_a_place():
    wanted = [visit(0, 1, 4), visit(7, 8, 2)]
    gain = one_more(wanted, [], room(1, 3), fit(wanted, []))
    assert (gain.more, gain.missing) == (3, 3)


def test_the_session_that_helps_most_comes_first_and_of_alike_ones_the_earliest():
    wanted = [visit(0, 1, 4), visit(7, 8, 2)]
    extras = [room(1, 3), room(7, 9), room(8, 9), room(20, 9)]
    assert [(gain.room.on, gain.more) for gain in best_of(wanted, [], extras, fit(wanted, []))] == [
        (day(1), 3), (day(7), 2), (day(8), 2),
    ]  # fmt: skip


def test_once_enough_sessions_would_be_full_the_later_ones_are_not_tried():
    wanted, extras = [visit(0, 9, 4)], (room(on, 1) for on in range(1, 9))
    assert [gain.room.on for gain in best_of(wanted, [], extras, fit(wanted, []))] == [day(1), day(2), day(3)]
    assert next(extras).on == day(4)


VISITS = st.lists(st.tuples(st.integers(0, 6), st.integers(0, 4), st.integers(1, 3)), max_size=7)
FREE = st.lists(st.integers(0, 3), min_size=7, max_size=11)


def most_that_fit(visits: list[Visit], rooms: list[Room]) -> int:
    """The maximum flow from visits over their days to rooms (scipy.sparse.csgraph.maximum_flow)."""
    size = len(visits) + len(rooms) + 2
    arcs = np.zeros((size, size), np.int32)
    for place, each in enumerate(visits):
        arcs[0, 1 + place] = each.number
        for at, held in enumerate(rooms):
            if each.first <= held.on <= each.last:
                arcs[1 + place, 1 + len(visits) + at] = 99
    for at, held in enumerate(rooms):
        arcs[1 + len(visits) + at, size - 1] = held.free
    return int(maximum_flow(csr_array(arcs), 0, size - 1).flow_value)


@given(VISITS, FREE)
def test_of_visits_of_one_slot_as_many_are_placed_as_can_be(wanted, free):
    visits = [visit(first, first + length, number) for first, length, number in wanted]
    rooms = [room(on, slots) for on, slots in enumerate(free)]
    found = fit(visits, rooms)
    placed = sum(each.number for each in found.placed)
    assert placed == most_that_fit(visits, rooms)
    assert placed + found.missing == sum(each.number for each in visits)


@given(VISITS, FREE)
def test_no_day_gives_more_than_it_has_and_nobody_comes_outside_the_window(wanted, free):
    visits = [
        visit(first, first + length, number, slots=1 + number % 2, kinds=REVIEW if first % 2 else STITCHES)
        for first, length, number in wanted
    ]
    found = fit(visits, [room(on, slots) for on, slots in enumerate(free)])
    assert all(each.visit.first <= each.on <= each.visit.last for each in found.placed)
    for on, slots in enumerate(free):
        taken = sum(each.number * each.visit.slots for each in found.placed if each.on == day(on))
        assert taken + found.left[day(on), 1] == slots


@pytest.mark.parametrize("order", [1, -1])
def test_the_order_of_the_lists_does_not_matter(order):
    wanted = [visit(0, 2, 2), visit(1, 1, 1), visit(0, 2, 1, expected=True)]
    rooms = [room(0, 1), room(1, 1), room(2, 1)]
    found = fit(wanted[::order], rooms[::order])
    assert {(each.on, each.visit, each.number) for each in found.placed} == {
        (day(0), visit(0, 2, 2), 1), (day(1), visit(1, 1, 1), 1), (day(2), visit(0, 2, 2), 1),
    }  # fmt: skip
    assert [each.visit.expected for each in found.short] == [True]


@settings(max_examples=30)
@given(VISITS, FREE)
def test_reviews_never_hide_how_many_removals_find_no_place(wanted, free):
    rooms = [room(on, slots) for on, slots in enumerate(free)]
    urgent = [visit(first, first + length, number) for first, length, number in wanted]
    reviews = [each._replace(kinds=REVIEW, slots=2) for each in urgent]
    found = fit([*reviews, *urgent], rooms)
    short = sum(each.number for each in found.short if each.visit.kinds == STITCHES)
    assert short == sum(each.number for each in urgent) - most_that_fit(urgent, rooms)
