"""The cast whose waits end otherwise, or began elsewhere: while stitches are in, or before anybody had looked."""

from datetime import timedelta

from caseload.demo.courses import OUT, second_hand
from caseload.demo.people import RECEIVERS
from caseload.demo.roles import role
from caseload.demo.stories import heal
from caseload.demo.telling import Story, Telling
from caseload.timetable.terms import Digit, Ending, Side


@role(30, 31, 32, 29, digit=Digit.INDEX, side=Side.LEFT, known=9, for_therapy=False)
def came_from_elsewhere(telling: Telling) -> Story:
    """Operated on in another hospital and transferred here with the stitches in."""
    telling.correct(arrived_on=telling.day)
    yield from heal(telling)


@role(33, 34, 35, 32, side=Side.LEFT)
def transferred_with_stitches_in(telling: Telling) -> Story:
    yield from telling.book(OUT)
    telling.go(telling.open_from(telling.surgery_on + timedelta(days=8)))
    telling.close(Ending.TRANSFERRED, RECEIVERS[1])


@role(44, 45, 46, 43, age=91)
def died_before_the_review(telling: Telling) -> Story:
    yield from telling.book(OUT)
    telling.go(telling.open_from(telling.surgery_on + timedelta(days=9)))
    telling.close(Ending.DIED)


@role(36, 37, 38, 35, digit=Digit.RING, side=Side.LEFT)
def operated_on_again_within_days(telling: Telling) -> Story:
    yield from telling.book(OUT)
    yield from second_hand(telling, 6, after=telling.episodes[0], digit=Digit.RING, side=Side.LEFT)
