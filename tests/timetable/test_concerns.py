"""A headline on any day, and the same as stretches of time."""

from datetime import date

from caseload.timetable.concerns import Stretch, headline, owner_on, stretches
from caseload.timetable.facts import FIRST_DAY
from caseload.timetable.plan import Concern, Timetable
from caseload.timetable.terms import Headline, Owner
from tests.timetable.builders import after, episode, out_and_closed, plan, red_flag

D0, D5, D6, D10, D15, D20 = (after(days) for days in (0, 5, 6, 10, 15, 20))
FLAG = Concern(Headline.RED_FLAG, D5, Owner.THERAPIST, D5, None, D6, Owner.LEAD)
ALERT = Concern(Headline.SAFETY_ALERT, D10, Owner.LEAD, D10)
VISIT = Concern(Headline.VISIT_UNBOOKED, D10, Owner.ADMIN, D15, "stitches-out")
REVIEW = Concern(Headline.VISIT_UNBOOKED, D5, Owner.ADMIN, D20, "outcome-review")


def standing(*concerns: Concern, surgery_on: date | None = D0, is_open: bool = True) -> Timetable:
    return Timetable("", "", surgery_on, (), (), concerns, None, None, (), is_open)


def test_the_most_pressing_of_a_day_then_the_longest_due() -> None:
    concerns = (REVIEW, VISIT, ALERT)
    assert headline(concerns, after(4)) is None
    assert headline(concerns, D5) == REVIEW and headline(concerns, after(9)) == REVIEW
    assert headline(concerns, D10) == ALERT
    assert headline((REVIEW, VISIT), D10) == VISIT


def test_an_owner_may_change_with_the_day() -> None:
    assert [owner_on(FLAG, day) for day in (D5, D6, D20)] == [Owner.THERAPIST, Owner.LEAD, Owner.LEAD]
    assert owner_on(ALERT, D20) is Owner.LEAD
    assert owner_on(ALERT._replace(then_owner=Owner.ADMIN), D20) is Owner.LEAD
    assert owner_on(ALERT._replace(then_on=D15), D20) is Owner.LEAD


def test_nothing_wrong_is_one_stretch_in_hand_from_the_surgery() -> None:
    assert stretches(standing()) == (Stretch(D0, None, None, None, None, None, ()),)


def test_without_a_surgery_date_time_begins_with_ever() -> None:
    assert stretches(standing(surgery_on=None))[0].from_on == FIRST_DAY


def test_a_closed_episode_has_none() -> None:
    assert stretches(standing(ALERT, is_open=False)) == ()


def test_each_change_of_headline_or_owner_begins_a_stretch() -> None:
    assert stretches(standing(FLAG, ALERT)) == (
        Stretch(D0, D5, None, None, None, None, ()),
        Stretch(D5, D6, Headline.RED_FLAG, Owner.THERAPIST, None, D5, ()),
        Stretch(D6, D10, Headline.RED_FLAG, Owner.LEAD, None, D5, ()),
        Stretch(D10, None, Headline.RED_FLAG, Owner.LEAD, None, D5, (Headline.SAFETY_ALERT,)),
    )


def test_the_others_stand_under_it_in_order_and_each_once() -> None:
    (*_, last) = stretches(standing(VISIT, REVIEW, ALERT, VISIT._replace(follow_up="wound-check")))
    assert last.headline is Headline.SAFETY_ALERT and last.others == (Headline.VISIT_UNBOOKED,)


def test_a_stretch_names_the_follow_up_and_its_due_day() -> None:
    parts = stretches(standing(VISIT, REVIEW))
    assert [(part.from_on, part.follow_up, part.due_on) for part in parts] == [
        (D0, None, None),
        (D5, "outcome-review", D20),
        (D10, "stitches-out", D15),
    ]


def test_a_turn_that_changes_nothing_begins_no_stretch() -> None:
    twin = ALERT._replace(from_on=D15)
    late = ALERT._replace(then_on=D20, then_owner=Owner.LEAD)
    assert [part.from_on for part in stretches(standing(late))] == [D0, D10]
    assert [part.from_on for part in stretches(standing(ALERT, twin))] == [D0, D10, D15]


def test_a_turn_on_the_first_day_begins_the_first_stretch() -> None:
    assert [part.from_on for part in stretches(standing(VISIT._replace(from_on=D0)))] == [D0]


def test_an_episode_as_derived() -> None:
    facts = episode(findings=(red_flag(D5), *out_and_closed(D10)))
    owners = [(part.from_on, part.headline, part.owner) for part in stretches(plan(facts))]
    assert owners[:3] == [
        (D0, None, None),
        (D5, Headline.RED_FLAG, Owner.THERAPIST),
        (D6, Headline.RED_FLAG, Owner.LEAD),
    ]
