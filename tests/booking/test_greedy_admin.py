"""The rules by which the benchmark of the busiest month keeps a diary. Days counted by hand."""

from datetime import date, timedelta

from caseload.booking.openings import Opening
from tests.benchmarks.busiest_month import SEED, busiest, with_fewer
from tests.benchmarks.greedy_admin import AHEAD, Diary, Due, one_by_one, simulate, together
from tests.booking.builders import NINE, OWN, SITE, asked, off, opening

EVE = off(-3)


def due(patient: int, window: tuple[int, int, int] = (-2, 0, 2), known_on: date = date.min) -> Due:
    return Due(patient, asked(*window, name=f"{patient}"), SITE, OWN, False, known_on)


def crossed() -> list[Due]:
    """Both fit if the first does not take its target day: of the second's two days the other is full."""
    return [due(1, (-1, 1, 1)), due(2, (1, 1, 3))]


def one_slot(*days: int) -> list[Opening]:
    """And a full session two days after the target."""
    return [opening(2, session=99, free=()), *(opening(on, session=on + 9, free=(NINE,)) for on in days)]


def days_of(diary: Diary) -> dict[str, int]:
    return {name: (place.offer.on - off(0)).days for name, place in diary.places.items()}


def test_the_admin_takes_the_best_place_and_leaves_the_next_one_late():
    kept = simulate(crossed(), one_slot(-1, 1, 5), [EVE], one_by_one)
    assert days_of(kept) == {"1": 1, "2": 5}
    assert kept.places["2"].offer.days_late == 2


def test_the_fill_places_both_inside():
    assert days_of(simulate(crossed(), one_slot(-1, 1, 5), [EVE], together)) == {"1": -1, "2": 1}


def test_whom_the_fill_cannot_place_gets_the_first_place_after_the_window():
    kept = simulate([due(1), due(2)], one_slot(0, 4, 6), [EVE], together)
    assert sorted(days_of(kept).values()) == [0, 4]


def test_nobody_knows_of_a_follow_up_before_it_is_known_or_opens_soon():
    early, soon = due(1, known_on=off(-5)), due(2)
    assert [early.is_listed(off(-6)), early.is_listed(off(-5))] == [False, True]
    opens = off(-2) - AHEAD
    assert [soon.is_listed(opens - timedelta(days=1)), soon.is_listed(opens)] == [False, True]


def test_a_patient_comes_once_a_day_unless_one_visit_serves_both():
    long = [Due(1, asked(name=name, minutes=60), SITE, OWN, False, date.min) for name in "ab"]
    kept = simulate(long, [opening(on, session=on + 9, end=NINE + 180) for on in (0, 1)], [EVE], one_by_one)
    assert sorted(days_of(kept).values()) == [0, 1]


def test_the_same_slots_are_taken_away_each_time():
    every = [opening(on, session=on) for on in range(100)]
    fewer = with_fewer(every, 20)
    assert SEED == 7 and fewer == with_fewer(every, 20)
    assert sum(len(each.free) for each in fewer) < sum(len(each.free) for each in every)


def test_the_busiest_month_is_the_one_in_which_most_windows_open():
    assert busiest([due(1), due(2), due(3, (40, 41, 42))]) == (2026, 2)
