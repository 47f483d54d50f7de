"""Offers: inside the window, best first, from different sessions, and honest about what is late or early."""

import pytest

from caseload.booking.cost import DAY_AWAY
from caseload.booking.offers import MOST, every_place
from caseload.errors import Refusal
from caseload.timetable.plan import Reason
from caseload.timetable.terms import FollowUpKind, Way
from tests.booking.builders import ELSEWHERE, NINE, OTHER, OWN, SITE, asked, best, need, off, opening


def test_the_target_day_with_the_own_therapist_comes_first() -> None:
    first, *_ = best(need(), opening(1, 1), opening(0, 2, therapist=OTHER), opening(0, 3))
    assert (first.session, first.code, first.on, first.start) == (3, "c3", off(0), NINE)
    assert first.reasons == (Reason("target-day"), Reason("own-therapist"))
    assert (first.days_late, first.days_early, first.minutes) == (0, 0, 20)
    assert (first.site, first.therapist) == (SITE, OWN)


def test_each_session_is_offered_once_before_any_is_offered_twice() -> None:
    found = best(need(), opening(0, 1), opening(2, 2), most=4)
    assert [(each.session, each.start) for each in found] == [(1, 540), (2, 540), (1, 580), (2, 580)]


def test_no_more_than_asked_for() -> None:
    many = [opening(0, session) for session in range(9)]
    assert len(best(need(), *many)) == MOST and len(best(need(), *many, most=2)) == 2


def test_a_session_without_room_for_the_length_is_passed_over() -> None:
    found = best(need(minutes=40), opening(0, 1, free=(540, 580)), opening(2, 2), most=1)
    assert found[0].session == 2 and found[0].minutes == 40


def test_a_place_that_leaves_no_gap_is_the_first_of_its_session_and_says_so() -> None:
    found = best(need(), opening(end=NINE + 100, free=(540, 560, 600)), most=1)
    assert found[0].start == 600 and Reason("no-gap") in found[0].reasons


def test_the_past_is_never_offered_and_today_only_from_now_on() -> None:
    found = best(need(), opening(-1, 1), opening(0, 2), today=off(0), minute=NINE)
    assert [(each.session, each.start) for each in found] == [(2, 580), (2, 560)]


def test_days_before_the_window_are_offered_only_when_a_clinician_approved() -> None:
    early = opening(-4, 1)
    assert best(need(), early) == ()
    (offer, *_) = best(need(), early, approved=True)
    assert (offer.days_early, offer.days_late) == (2, 0)
    assert offer.reasons[0] == Reason("days-before-earliest", (2,))


def test_an_approved_early_day_stands_behind_a_late_one_as_near() -> None:
    found = best(need(), opening(-3, 1), opening(11, 2), approved=True, most=2)
    assert [each.session for each in found] == [2, 1]


def test_how_much_early_days_count_is_a_setting() -> None:
    found = best(need(), opening(-3, 1), opening(11, 2), approved=True, most=2, early_factor=2)
    assert [each.session for each in found] == [1, 2]
    assert found[0].cost.distance == 2 * 3 * DAY_AWAY


def test_an_approval_of_early_days_offers_no_place_twice() -> None:
    found = best(need(), opening(-2, 1), opening(-3, 2), approved=True)
    assert len({(each.session, each.start) for each in found}) == len(found) == 6


def test_of_places_that_are_alike_the_session_named_first_comes_first() -> None:
    assert [each.session for each in best(need(), opening(0, 2), opening(0, 1), most=2)] == [1, 2]


@pytest.mark.parametrize("inside", [(), (opening(1, 9, free=()),)])
def test_a_window_with_nothing_left_gets_the_first_places_after_it(inside: tuple[object, ...]) -> None:
    found = best(need(), opening(9, 1), opening(3, 2), opening(-3, 3), *inside, most=2)
    assert [(each.session, each.days_late) for each in found] == [(2, 1), (1, 7)]
    assert found[0].reasons[0] == Reason("days-after-latest", (1,))


def test_a_window_that_has_passed_gets_the_first_places_from_today() -> None:
    found = best(need(), opening(1, 1), opening(5, 2), today=off(4))
    assert {(each.session, each.days_late) for each in found} == {(2, 3)}


def test_as_long_as_the_window_has_a_place_nothing_after_it_is_offered() -> None:
    assert {each.session for each in best(need(), opening(2, 1), opening(3, 2))} == {1}


def test_the_last_day_of_a_provisional_window_does_not_bind() -> None:
    found = best(need(provisional=True), opening(2, 1), opening(9, 2), opening(-3, 3), most=2)
    assert [(each.session, each.days_late) for each in found] == [(1, 0), (2, 0)]
    assert found[1].reasons[0] == Reason("days-after-target", (9,))


def test_only_sessions_of_the_site_that_take_it_are_offered() -> None:
    others = opening(site=ELSEWHERE), opening(takes=frozenset({FollowUpKind.WOUND_CHECK}))
    assert best(need(), *others, opening(ways=frozenset({Way.VIDEO}))) == ()


def test_what_must_be_seen_is_not_booked_by_telephone() -> None:
    with pytest.raises(Refusal, match="in person") as refused:
        best(need(), opening(), way=Way.TELEPHONE)
    assert (refused.value.code, refused.value.details["field"]) == ("needs-in-person", "way")
    assert best(need(asked(in_person=False)), opening(), way=Way.TELEPHONE)


@pytest.mark.parametrize(
    ("on", "who", "reasons"),
    [
        (1, OTHER, [Reason("days-after-target", (1,)), Reason("other-therapist")]),
        (-2, 1, [Reason("days-before-target", (2,)), Reason("own-therapist")]),
    ],
)
def test_an_offer_says_how_far_it_is_from_the_target_and_whose(on: int, who: int, reasons: list[Reason]) -> None:
    assert list(best(need(), opening(on, therapist=who))[0].reasons) == reasons


def test_nobodys_patient_hears_nothing_of_therapists() -> None:
    assert best(need(therapist=None), opening())[0].reasons == (Reason("target-day"),)


def every(of, *openings, **said):
    known = {"way": Way.IN_PERSON, "today": off(-28), "minute": 0}
    return every_place(of, openings, **(known | said))


def test_every_place_of_a_day_is_shown_in_order_of_time_and_says_how_far_outside_it_is() -> None:
    late, early = opening(4, 1), opening(-3, 2)
    found = every(need(), late, opening(4, 3, start=NINE + 20), early)
    assert [(each.on, each.start) for each in found] == sorted((each.on, each.start) for each in found)
    assert {(each.session, each.days_late, each.days_early) for each in found} == {(1, 2, 0), (3, 2, 0), (2, 0, 1)}


def test_of_a_day_only_sessions_that_take_it_and_times_to_come_are_shown() -> None:
    assert every(need(), opening(site=ELSEWHERE)) == ()
    assert [each.start for each in every(need(), opening(0), today=off(0), minute=NINE)] == [NINE + 20, NINE + 40]


def test_a_place_for_a_wound_is_never_shown_from_afar() -> None:
    with pytest.raises(Refusal) as refusal:
        every(need(), opening(), way=Way.VIDEO)
    assert refusal.value.code == "needs-in-person"
