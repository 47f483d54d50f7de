"""A session falls away: its patients in order of latest day, each inside its window if there is any way."""

import pytest

from caseload.booking.offers import Now
from caseload.booking.rehouse import Kept, Lost, Proposal, rehouse, rehouse_moving
from caseload.booking.rehousing.places import diary_of
from caseload.timetable.plan import Reason
from caseload.timetable.terms import FollowUpKind, Way
from tests.booking.builders import ELSEWHERE, NINE, OTHER, OWN, lost, need, off, opening


def placed(gone: list[Lost], *openings: object, today: int = -9, minute: int = 0) -> dict[int, tuple[int, int]]:
    """For each appointment its session and the days it is late."""
    found = rehouse(gone, openings, today=off(today), minute=minute)
    return {each.appointment: (each.offer.session, each.offer.days_late) for each in found if each.offer}


def one_place(on: int, session: int, **said: object):
    return opening(on, session, free=(NINE,), **said)


def test_proposals_come_in_order_of_latest_day_then_earliest_then_number() -> None:
    gone = [lost(4), lost(3), lost(2, earliest=-3), lost(1, latest=3)]
    assert [each.appointment for each in rehouse(gone, [], today=off(0), minute=0)] == [2, 3, 4, 1]


def test_each_takes_its_best_place_and_leaves_the_rest_to_the_next() -> None:
    gone = [lost(1), lost(2), lost(3)]
    assert placed(gone, one_place(2, 22), one_place(1, 21), one_place(0, 20)) == {1: (20, 0), 2: (21, 0), 3: (22, 0)}


def test_two_in_one_session_take_two_slots_of_it() -> None:
    one, two = rehouse([lost(1, minutes=40), lost(2)], [opening()], today=off(-9), minute=0)
    assert (one.offer.start, two.offer.start) in ((NINE, NINE + 40), (NINE + 20, NINE))
    assert Reason("no-gap") in two.offer.reasons and Reason("no-gap") in one.offer.reasons


def test_an_earlier_one_changes_its_place_so_that_a_later_one_stays_inside() -> None:
    gone = [lost(1, earliest=-2, target=0, latest=2), lost(2, earliest=0, target=0, latest=2)]
    assert placed(gone, one_place(0, 20), one_place(-2, 18)) == {1: (18, 0), 2: (20, 0)}


def test_a_whole_chain_changes_places_if_it_must() -> None:
    gone = [lost(1, earliest=-4, target=-2), lost(2, target=0), lost(3, earliest=0, target=0)]
    places = one_place(-2, 18), one_place(0, 20), one_place(-4, 16)
    assert placed(gone, *places) == {1: (16, 0), 2: (18, 0), 3: (20, 0)}


def test_visits_choose_days_whatever_the_number_of_slots() -> None:
    places = opening(0, 20, therapist=OWN, end=NINE + 120), opening(0, 21, therapist=OTHER), opening(1, 22)
    diary = diary_of([lost(1), lost(2, target=1)], [], places, Now(off(-9), 0))
    with_any_or_own = 2
    assert len(diary.days.visit) == 2 * 2 * with_any_or_own and len(diary.starts.first) == 6 + 3 + 3


def test_who_is_with_the_own_therapist_and_who_with_another_share_a_day() -> None:
    gone = [lost(1), lost(2, therapist=OTHER), lost(3, therapist=None)]
    places = [one_place(0, each, therapist=each) for each in (OTHER, OWN, 3)]
    assert placed(gone, *places) == {1: (OWN, 0), 2: (OTHER, 0), 3: (3, 0)}


def test_an_exchange_looks_past_the_places_that_nobody_holds_alone() -> None:
    gone = [lost(1), lost(2), lost(3, minutes=40, target=1, latest=2), lost(4, minutes=40, earliest=0, latest=3)]
    pair, single, later = opening(0, 20, free=(540, 560)), opening(1, 21, free=(540, 560)), opening(3, 23)
    found = placed(gone, pair, single, later)
    assert set(found.values()) == {(20, 0), (21, 0), (23, 0)} and len(found) == 4


def test_an_exchange_that_leads_nowhere_is_taken_back() -> None:
    gone = [lost(1), lost(2), lost(3)]
    places = one_place(0, 20), one_place(1, 21), one_place(3, 23)
    assert sorted(placed(gone, *places).values()) == [(20, 0), (21, 0), (23, 1)]


def test_two_short_visits_make_no_room_for_a_long_one() -> None:
    gone = [lost(1), lost(2), lost(3, minutes=40, latest=3)]
    assert placed(gone, opening(0, 20, free=(540, 560)), opening(4, 24)) == {1: (20, 0), 2: (20, 0), 3: (24, 1)}


def test_who_cannot_be_inside_waits_until_all_others_are() -> None:
    gone = [lost(1, latest=0), lost(2, latest=2)]
    assert placed(gone, one_place(1, 21), one_place(5, 25)) == {1: (25, 5), 2: (21, 0)}


def test_today_counts_from_the_minute_on() -> None:
    assert placed([lost(1)], one_place(0, 20), one_place(1, 21), today=0, minute=NINE) == {1: (21, 0)}


def test_a_window_that_has_passed_is_late_from_today() -> None:
    assert placed([lost(1)], opening(-1, 19), opening(1, 21), opening(5, 25), today=4) == {1: (25, 3)}


def test_the_own_therapist_is_kept_where_the_day_is_the_same() -> None:
    assert placed([lost(1)], opening(0, 1, therapist=OTHER), opening(0, 2, therapist=OWN)) == {1: (2, 0)}


@pytest.mark.parametrize(
    ("said", "code"),
    [
        ({"free": ()}, "all-full"),
        ({"site": ELSEWHERE}, "no-session-takes"),
        ({"takes": frozenset({FollowUpKind.WOUND_CHECK})}, "no-session-takes"),
    ],
)
def test_who_finds_no_place_is_told_why(said: dict, code: str) -> None:
    found = rehouse([lost(7)], [opening(**said)], today=off(0), minute=0)
    assert found == (Proposal(7, None, Reason(code)),)


def test_what_must_be_seen_is_rehoused_in_person_however_it_was_booked() -> None:
    by_telephone = frozenset({Way.TELEPHONE})
    assert placed([lost(1, Way.TELEPHONE)], opening(0, 1, ways=by_telephone), opening(1, 2)) == {1: (2, 0)}
    unseen = lost(2, Way.TELEPHONE, in_person=False)
    assert placed([unseen], opening(0, 1, ways=by_telephone), opening(1, 2)) == {2: (1, 0)}


def test_others_make_room_where_that_keeps_a_window_and_nobody_of_today_moves() -> None:
    other = Kept(9, need(earliest=0, target=0, latest=3), Way.IN_PERSON, 1, NINE)
    full, later = opening(0, 1, end=NINE + 20, free=()), opening(2, 2, end=NINE + 20)
    gone = [lost(1, earliest=-2, target=0, latest=0)]
    found = rehouse_moving(gone, [other], [full, later], today=off(-1), minute=0)
    assert [(each.appointment, each.offer.on) for each in found.moves] == [(9, off(2))]
    assert found.proposals[0].offer.on == off(0) and found.proven
    today = rehouse_moving(gone, [other, other._replace(session=7)], [full, later], today=off(0), minute=0)
    assert today.moves == () and today.proposals[0].offer.days_late == 2


def test_nobody_moves_where_everybody_keeps_their_window_anyhow() -> None:
    other = Kept(9, need(earliest=0, target=0, latest=3), Way.IN_PERSON, 1, NINE)
    places = opening(0, 1, end=NINE + 20, free=()), opening(1, 2, end=NINE + 20)
    found = rehouse_moving([lost(1)], [other], places, today=off(-1), minute=0)
    assert found.moves == () and found.proposals[0].offer.on == off(1)


def test_where_time_is_up_before_others_are_looked_at_the_lost_are_still_placed_and_nothing_is_proven() -> None:
    other = Kept(9, need(earliest=0, target=0, latest=3), Way.IN_PERSON, 1, NINE)
    places = opening(0, 1, end=NINE + 20, free=()), opening(2, 2, end=NINE + 20)
    gone = [lost(1, earliest=-2, target=0, latest=0)]
    found = rehouse_moving(gone, [other], places, today=off(-1), minute=0, limit=0.0)
    assert (found.proven, found.moves, found.proposals[0].offer.days_late) == (False, (), 2)
