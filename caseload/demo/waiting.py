"""The month in which those who were seen tell the wrong story.

In the last whole month a therapist was away. Only urgent patients were seen, and quickly; the others, referred long
before their operation, waited for the month after it. So whoever counts those who were seen sees the waits fall, while
everybody else waits longer than ever. Everything else of the demo is ordinary; this is what the waits page is for.
"""

from collections.abc import Iterator
from contextlib import suppress
from datetime import date, timedelta
from random import Random
from typing import Final, NamedTuple

from caseload.demo.hands import birth_date, hand
from caseload.demo.names import People
from caseload.demo.people import FERNHOLLOW, QUAY_STREET, REFERRERS, SURGEONS
from caseload.demo.stage import TWO_WEEK, Stage
from caseload.demo.stories import recovery
from caseload.demo.telling import Over, Story, Telling
from caseload.models import ReferralEnd
from caseload.parsing.answers import Priority

PUT_OFF: Final = 58
URGENT: Final = 14
BEFORE_THE_MONTH: Final = 16
"""The first of those who were put off were referred so many days before the month began."""
TO_SURGERY: Final = 110
GIVEN_UP: Final = 11
"""One in so many of those who were put off did not want to wait any longer."""


class Course(NamedTuple):
    """When somebody was referred and seen, at which priority; `seen_on` is None of one who gave up waiting."""

    received_on: date
    seen_on: date | None
    priority: Priority


def waiting_list(stage: Stage, people: People, rng: Random, scale: float) -> Iterator[Story]:
    """The stories of that month."""
    wanted = courses(stage.today, rng, scale)
    return (_live(stage, people, Random(f"{rng.random()}"), course) for course in wanted)


def courses(today: date, rng: Random, scale: float = 1.0) -> list[Course]:
    """Those who were put off, and those who were urgent."""
    return [*_put_off(today, rng, round(PUT_OFF * scale)), *_urgent(today, rng, round(URGENT * scale))]


def _month(today: date) -> tuple[date, date]:
    """The first and the last day of the last whole month."""
    last = today.replace(day=1) - timedelta(days=1)
    return last.replace(day=1), last


def _put_off(today: date, rng: Random, many: int) -> Iterator[Course]:
    first, last = _month(today)
    began = first - timedelta(days=BEFORE_THE_MONTH)
    days = (last - began).days - 4
    for place in range(many):
        received_on = began + timedelta(days=place * days // many)
        seen_on = last + timedelta(days=2 + place * 24 // many + rng.randrange(0, 4))
        yield Course(received_on, None if place % GIVEN_UP == GIVEN_UP // 2 else seen_on, Priority.ROUTINE)


def _urgent(today: date, rng: Random, many: int) -> Iterator[Course]:
    first, _ = _month(today)
    for place in range(many):
        received_on = first + timedelta(days=place * 24 // many)
        yield Course(received_on, received_on + timedelta(days=rng.randrange(1, 6)), Priority.URGENT)


def _live(stage: Stage, people: People, rng: Random, course: Course) -> Story:
    site = FERNHOLLOW if rng.random() < 0.8 else QUAY_STREET
    telling = Telling(stage, rng, site, course.received_on + timedelta(days=TO_SURGERY))
    telling.surgery_on = telling.open_from(telling.surgery_on)
    with suppress(Over):
        telling.go(telling.open_from(course.received_on))
        born_on = birth_date(rng, telling.surgery_on)
        telling.meet(people.draw(born_on))
        telling.refer(source=rng.choice(REFERRERS), priority=course.priority, reason="stiff before the operation")
        facts = hand(rng, born_on, telling.surgery_on) | {"for_therapy": True}
        telling.open(**facts, surgeon=rng.choice(SURGEONS), rules=stage.rules[TWO_WEEK])
        if course.seen_on is None:
            give_up(telling)
            return
        telling.go(telling.open_from(course.seen_on))
        telling.measure_before("First visit, before the operation.")
        yield from recovery(telling)


def give_up(telling: Telling) -> None:
    """Does not want therapy any more, and says so after some weeks."""
    telling.later(18)
    telling.end_referral(telling.admin, ReferralEnd.DECLINED)
    telling.correct(for_therapy=False)
