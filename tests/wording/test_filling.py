"""Plans that fill the diary, in words."""

from datetime import date

import pytest

from caseload.booking.cost import Cost
from caseload.timetable.plan import Reason
from caseload.wording import filling
from caseload.wording.speech import speech


@pytest.mark.parametrize(
    ("counts", "said"),
    [
        ((0, 0, 0), "Nothing was to be placed."),
        (
            (1, 0, 0),
            "1 of 1 follow-up gets a place. Against the present: 1 that stands unbooked gets a place, 0 badly placed "
            "are moved, 0 stay without.",
        ),
        (
            (36, 4, 5),
            "36 of 41 follow-ups get a place. Against the present: 32 that stand unbooked get a place, 4 badly placed "
            "are moved, 5 stay without.",
        ),
    ],
)
def test_what_a_plan_changes_adds_up(counts: tuple[int, int, int], said: str) -> None:
    assert filling.say_placed(*counts) == said


@pytest.mark.parametrize(
    ("found", "said"),
    [
        ((9, 9, 40, 40), "No plan can place more, nor as many at less cost: proven."),
        ((9, 9, 41, 40), "within 1 point of the best possible that places as many."),
        ((9, 11, 40, 40), "At most 2 more follow-ups could be placed by any plan."),
    ],
)
def test_only_what_is_proven_is_called_so(found: tuple[int, int, int, int], said: str) -> None:
    sentence = filling.say_proof(*found)
    assert sentence.endswith(said) and sentence.startswith("The time limit") == (found[0:3:2] != found[1:4:2])


def test_a_cost_names_each_part_that_costs_something() -> None:
    parts = dict(reversed(Cost(distance=32, tie=8, therapist=0, gaps=1)._asdict().items()))
    assert set(parts) == set(filling.PARTS)
    assert filling.say_cost(parts, speech()) == (
        "32 for the days from the target, 8 for lying before the target, 1 for gaps left beside it"
    )
    assert filling.say_cost(Cost(0, 0, 0, 0)._asdict(), speech()) == ""
    assert [filling.say_points(each, speech()) for each in (0, 1, 2)] == ["0 points", "1 point", "2 points"]


@pytest.mark.parametrize(
    ("dearer", "said"), [(None, "no other place is free"), (0, "another free place costs the same"), (4, "4 more")]
)
def test_the_next_best_place_is_told(dearer: int | None, said: str) -> None:
    assert said in filling.say_next(dearer, speech())


@pytest.mark.parametrize("code", ["no-open-day", "no-session", "all-full"])
def test_every_reason_for_having_no_place_has_words(code: str) -> None:
    assert filling.say_why(Reason(code), speech()).endswith(".")


def test_one_more_session_is_named_with_its_day_and_site() -> None:
    said = filling.say_session(date(2026, 4, 7), "Quay Street")
    assert said == "One more session on Tue 7 Apr 2026 at Quay Street would place it."


@pytest.mark.parametrize("say", [filling.say_booked, filling.say_declined])
def test_one_and_several_are_counted(say) -> None:
    assert say(1).startswith("1 ") and say(2).startswith("2 ") and "%" not in say(2)
