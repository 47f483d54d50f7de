"""Who depends on whom when others move: by what one takes of the place that another gives up."""

from caseload.booking.chains import chains, taken_from
from caseload.booking.offers import offer_of
from caseload.booking.rehouse import Kept, Proposal
from caseload.timetable.terms import Way
from tests.booking.builders import NINE, need, opening


def place(appointment: int, session: int, start: int = NINE, minutes: int = 20) -> Proposal:
    return Proposal(appointment, offer_of(need(minutes=minutes), opening(session=session), start), None)


def gone(appointment: int, session: int, start: int = NINE, minutes: int = 20) -> Kept:
    return Kept(appointment, need(minutes=minutes), Way.IN_PERSON, session, start)


def test_whoever_gets_a_slot_of_one_who_moves_away_takes_it_from_them() -> None:
    found = taken_from([place(1, 7), place(2, 8), Proposal(3, None, None)], [gone(2, 7)])
    assert found == {1: (2,), 2: ()}


def test_a_long_visit_takes_from_two_each_named_once() -> None:
    left = [gone(2, 7, minutes=40), gone(3, 7, NINE + 40)]
    assert taken_from([place(1, 7, minutes=60)], left) == {1: (2, 3)}


def test_who_moves_along_a_little_takes_nothing_of_their_own() -> None:
    assert taken_from([place(2, 7, NINE + 20, 40)], [gone(2, 7, minutes=40)]) == {2: ()}


def test_those_who_are_joined_stand_together_whoever_takes_first() -> None:
    assert chains({5: (), 3: (), 2: (3,), 4: (), 1: (2,)}) == [(5,), (4,), (1, 2, 3)]


def test_two_who_take_from_one_are_in_one_chain() -> None:
    assert chains({1: (9,), 2: (9,), 9: ()}) == [(1, 9, 2)]


def test_a_ring_has_no_beginning_and_is_one_chain() -> None:
    assert chains({1: (2,), 2: (3,), 3: (1,)}) == [(1, 2, 3)]
