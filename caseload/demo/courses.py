"""The cast of people and courses: children, namesakes, several digits, planned surgery, and every way to end."""

from datetime import timedelta
from typing import Any

from caseload.demo import looks
from caseload.demo.people import QUAY_STREET, RECEIVERS
from caseload.demo.roles import ABSORBABLE, UNSTITCHED, USUAL, next_visit_day, role
from caseload.demo.stories import discharge, heal, outcome, recovery
from caseload.demo.telling import Story, Telling
from caseload.demo.visits import visit
from caseload.models import Episode, Reached, ReferralEnd
from caseload.timetable.terms import AfterVisit, Digit, Ending, FollowUpKind, Side

OUT, CHECK = FollowUpKind.STITCHES_OUT, FollowUpKind.WOUND_CHECK
CHILD: dict[str, Any] = ABSORBABLE | {"digit": Digit.THUMB, "for_therapy": False, "dominant": ""}
NAMESAKES = {"given": "Maureen", "family": "Thornelow"}


@role(11, 12, 13, 10, person={"language": "Urdu", "interpreter": True, "dressing_allergy": "adhesive plasters"})
def needs_an_interpreter(telling: Telling) -> Story:
    yield from telling.book(OUT)
    telling.ring(Reached.SPOKE, "Rang with an interpreter; knows the day.")


@role(10, 11, 12, 9, **CHILD, age=3)
def childs_thumb(telling: Telling) -> Story:
    yield from telling.book(CHECK)


@role(52, 53, 54, 51, **CHILD, age=1, side=Side.LEFT)
def childs_thumb_healed(telling: Telling) -> Story:
    yield from recovery(telling)


@role(14, 13, 15, 12, person=NAMESAKES, age=71)
def namesake(telling: Telling) -> Story:
    yield from telling.book(OUT, on=next_visit_day(telling))


@role(14, 13, 15, 12, person=NAMESAKES, age=64, digit=Digit.THUMB)
def other_namesake(telling: Telling) -> Story:
    yield from telling.book(OUT, on=next_visit_day(telling))


@role(13, 14, 12, 15, side=Side.LEFT)
def two_digits_one_visit(telling: Telling) -> Story:
    telling.open(rules=telling.episodes[0].rules, **(USUAL | {"side": Side.LEFT, "digit": Digit.MIDDLE}))
    yield from telling.book(OUT, on=next_visit_day(telling))


@role(45, 46, 47, 48)
def same_hand_again(telling: Telling) -> Story:
    """The ring finger is healed; the index of the same hand was operated three weeks later."""
    yield from heal(telling)
    yield from second_hand(telling, 24, digit=Digit.INDEX)


@role(40, 41, 42, 43, digit=Digit.THUMB)
def other_hand_next(telling: Telling) -> Story:
    yield from heal(telling)
    yield from second_hand(telling, 30, digit=Digit.THUMB, side=Side.LEFT)


def second_hand(first: Telling, days: int, *, after: Episode | None = None, **facts: Any) -> Story:
    """The same patient, operated on again so many days after the first surgery; `after` is of the same digit."""
    surgery_on = first.open_from(first.surgery_on + timedelta(days=days))
    telling = Telling(first.stage, first.rng, first.site.name, surgery_on)
    telling.smooth, telling.patient = True, first.patient
    telling.go(telling.open_from(surgery_on))
    facts = USUAL | facts | {"rules": first.episodes[0].rules}
    if after:
        telling.open_after(after, **facts)
    else:
        telling.open(**facts)
    yield from telling.book(OUT)


# Planned, in therapy, and ended


@role(-6, -7, -8, -9)
def planned(telling: Telling) -> Story:
    yield from telling.book(OUT)


@role(-13, -14, -15, -12, **UNSTITCHED, site=QUAY_STREET)
def planned_later(telling: Telling) -> Story:
    yield


@role(34, 33, 35, 36)
def seen_again_in_two_weeks(telling: Telling) -> Story:
    yield from heal(telling)
    yield from visit(telling, FollowUpKind.THERAPY_REVIEW, looks.glance_and_review)
    yield from telling.book(FollowUpKind.SET_REVIEW)


@role(100, 101, 102, 99, digit=Digit.LITTLE, side=Side.LEFT)
def discharged(telling: Telling) -> Story:
    yield from recovery(telling)


@role(40, 41, 42, 43)
def transferred(telling: Telling) -> Story:
    yield from heal(telling)
    telling.later(3)
    telling.close(Ending.TRANSFERRED, RECEIVERS[0])


@role(50, 51, 52, 53, site=QUAY_STREET)
def referred_back(telling: Telling) -> Story:
    yield from heal(telling)
    surgeon = telling.episodes[0].surgeon
    yield from visit(telling, FollowUpKind.THERAPY_REVIEW, lambda _, episode: looks.look(
        episode, after=AfterVisit.REFER_BACK, received_by=surgeon
    ))  # fmt: skip


@role(60, 61, 62, 63, age=88)
def died(telling: Telling) -> Story:
    yield from heal(telling)
    telling.later(10)
    telling.close(Ending.DIED)


@role(3, 4, 5, 6, for_therapy=False)
def operation_not_done(telling: Telling) -> Story:
    yield
    telling.close(Ending.NOT_DONE)


@role(66, 67, 68, 69, digit=Digit.MIDDLE)
def operated_on_again(telling: Telling) -> Story:
    yield from heal(telling)
    yield from second_hand(telling, 48, after=telling.episodes[0], digit=Digit.MIDDLE)


@role(38, 39, 40, 37, digit=Digit.LITTLE)
def declined_therapy(telling: Telling) -> Story:
    yield from heal(telling)
    telling.later(2)
    telling.ring(Reached.SPOKE, "Does not want therapy; keeps the outcome review.")
    telling.correct(for_therapy=False)
    telling.end_referral(telling.admin, ReferralEnd.DECLINED)
    yield from outcome(telling)
    discharge(telling)
