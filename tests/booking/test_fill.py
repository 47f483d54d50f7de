"""Filling the diary: single rules, where a random week would seldom show them."""

from datetime import date, timedelta

import pytest

from caseload.booking.fill import Horizon, Plan, Wish, fill, fill_by_parts
from caseload.booking.filling import stages
from caseload.booking.offers import Now
from caseload.booking.openings import Opening
from caseload.booking.solver import Answer, solve
from caseload.timetable.terms import FollowUpKind
from tests.booking.builders import OTHER, OWN, SITE, TARGET, need, off, opening

NOW = Now(off(-9), -1)
OPEN_DAYS = {SITE: tuple(off(n) for n in range(-9, 20) if off(n).weekday() < 5)}
REVIEW = frozenset({FollowUpKind.THERAPY_REVIEW})


def wish(patient: int, **said) -> Wish:
    return Wish(patient, need(**said)._replace(names=(f"{patient}",)))


def filled(wishes, *openings: Opening, **said) -> Plan:
    horizon = Horizon(NOW, OPEN_DAYS, said.pop("until", date.max))
    return fill(wishes, openings, horizon, **said)


def long_ones() -> tuple[list[Wish], list[Opening]]:
    """Two of three slots and three of four: eighteen slots that do not go into twice nine and two."""
    wishes = [wish(n, minutes=60) for n in (1, 2)] + [wish(n, minutes=80) for n in (3, 4, 5)]
    wishes = [each._replace(need=each.need._replace(minutes=60 if each.patient < 3 else 80)) for each in wishes]
    return wishes, [opening(0, n, start=480, end=480 + 20 * slots, therapist=OTHER) for n, slots in
                    enumerate((2, 9, 9), 1)]  # fmt: skip


def test_what_is_counted_as_fitting_and_does_not_is_seen_stretch_by_stretch():
    wishes, openings = long_ones()
    plan = filled(wishes, *openings)
    assert plan.proven and (len(plan.placed), plan.could_place) == (4, 4)


def test_where_time_is_up_before_it_fits_as_many_are_seated_as_can_be(monkeypatch):
    def slow(*program, **options) -> Answer:
        return solve(*program, **options | {"limit": 60.0})._replace(seconds=1e9)

    monkeypatch.setattr(stages, "solve", slow)
    wishes, openings = long_ones()
    plan = filled(wishes, *openings)
    assert not plan.proven and len(plan.placed) == 4 and plan.could_place == 5 and plan.bound <= plan.cost


def test_a_plan_of_everybody_that_is_not_proven_in_its_time_is_improved_in_the_rest(monkeypatch):
    turns = []

    def doubtful(*program, **options) -> Answer:
        turns.append(options)
        answer = solve(*program, **options)
        return answer._replace(proven=False, bound=0.0) if len(turns) == 1 else answer

    monkeypatch.setattr(stages, "solve", doubtful)
    plan = filled([wish(1), wish(2)], opening(0), opening(1, 2))
    assert plan.proven and len(plan.placed) == 2 and turns[1]["start"].sum() > 0


@pytest.mark.parametrize("limit", [0.0, 1e-9])
def test_without_any_time_somebody_s_plan_stands_and_says_that_it_is_not_proven(limit):
    wishes = [wish(n) for n in range(4)]
    plan = filled(wishes, opening(0), limit=limit)
    assert len(plan.placed) == 3 and len(plan.unplaced) == 1 and plan.bound <= plan.cost
    assert plan.proven is (plan.could_place == 3)


def test_stitches_come_before_any_number_of_reviews():
    reviews = [Wish(n, need()._replace(names=(f"{n}",), kinds=REVIEW)) for n in range(1, 4)]
    long = wish(9)
    long = long._replace(need=long.need._replace(minutes=60))
    plan = filled([*reviews, long], opening(0))
    assert [each.wish.patient for each in plan.placed] == [9] and len(plan.unplaced) == 3


def test_a_place_says_what_the_next_best_free_one_would_cost_more():
    placed = filled([wish(1)], opening(0), opening(1, 2)).placed
    assert [each.next_best for each in placed] == [0]
    alone = filled([wish(1)], opening(0, end=560), opening(2, 2, end=560)).placed
    assert [(each.offer.on, each.next_best) for each in alone] == [(TARGET, 32)]
    assert filled([wish(1)], opening(0, end=560)).placed[0].next_best is None


def test_of_an_own_and_another_therapist_on_one_day_the_own_is_kept_for_who_asks():
    asked = [wish(1, therapist=OTHER), wish(2, therapist=OWN)]
    plan = filled(asked, opening(0, 1, end=560), opening(0, 2, end=560, therapist=OTHER))
    assert {each.wish.patient: each.offer.therapist for each in plan.placed} == {1: OTHER, 2: OWN} and plan.cost == 0


@pytest.mark.parametrize(
    ("openings", "days", "why"),
    [((), (), "no-open-day"), ((), (0,), "no-session"), ((opening(0, free=()),), (0,), "all-full")],
)
def test_who_has_no_place_is_told_why(openings, days, why):
    plan = fill([wish(1)], openings, Horizon(NOW, {SITE: [off(n) for n in days]}))
    (each,) = plan.unplaced
    assert each.why.code == why and each.session_on == (TARGET if days else None) and each.after is None


def test_no_two_are_shown_the_same_place_after_their_window_and_the_most_urgent_sees_the_first():
    late = opening(5, 2, end=580)
    plan = filled([wish(2, latest=3), wish(1)], opening(9, 3, takes=REVIEW), late)
    found = [(each.wish.patient, each.after.start, each.after.days_late) for each in plan.unplaced]
    assert found == [(1, 540, 3), (2, 560, 2)]


def test_places_after_the_last_day_asked_for_are_only_shown():
    plan = filled([wish(1)], opening(1), until=off(0))
    assert not plan.placed and plan.unplaced[0].after.on == off(1) and plan.unplaced[0].after.days_late == 0


def test_parts_that_share_nothing_are_planned_one_after_the_other():
    asked = [wish(1), wish(2, earliest=5, target=6, latest=7)]
    told = list(fill_by_parts(asked, [opening(0), opening(6, 2)], Horizon(NOW, OPEN_DAYS)))
    assert [(done, of, len(plan.placed)) for done, of, plan in told] == [(1, 2, 1), (2, 2, 1), (2, 2, 0)]


def test_a_patient_is_not_brought_twice_on_one_day():
    asked = [wish(1), wish(1)._replace(need=need()._replace(names=("other",), kinds=REVIEW))]
    days = [each.offer.on for each in filled(asked, opening(0), opening(2, 2)).placed]
    assert sorted(days) == [TARGET, TARGET + timedelta(days=2)]


def test_what_is_provisional_moves_along_with_today_and_is_never_late():
    row = need(earliest=-30, target=-28, latest=-26, provisional=True)._replace(names=("1",))
    (each,) = filled([Wish(1, row)], opening(-6)).placed
    assert each.offer.on == off(-6) and each.offer.days_late == 0
    assert not filled([Wish(1, row)], opening(-4)).placed
    assert date(2026, 2, 8) == off(-9)
