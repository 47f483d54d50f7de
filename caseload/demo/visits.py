"""A visit from its booking to its record, and what comes between: missed, cancelled, written up late."""

from collections.abc import Callable
from datetime import date, timedelta

from caseload.actions.visits import Look
from caseload.demo.telling import Booked, Part, Story, Telling
from caseload.models import Episode, Reached, Told
from caseload.timetable.terms import FollowUpKind, Outcome

Find = Callable[[Telling, Episode], Look]

MISSED, CANCELLED, CANCELLED_HERE = 0.06, 0.05, 0.02
WRITTEN_UP_LATE = 0.05
FORGOTTEN = 0.08
"""So often nobody books the next visit when it is agreed."""
LEFT_LYING = 0.3
"""So often nobody rings at once after a missed or cancelled visit."""
LOGGED = 0.2


def visit(telling: Telling, kind: FollowUpKind, find: Find, *, in_person: bool = False) -> Story:
    """Book, live until the day, and record what was found in each of the episodes it was for."""
    booked = yield from keep(telling, kind, in_person=in_person)
    attend(telling, booked, find)


def keep(telling: Telling, kind: FollowUpKind, *, in_person: bool = False) -> Part[Booked]:
    """Book a visit and live until its day; what falls through is booked again."""
    if telling.chance(FORGOTTEN):
        telling.later(telling.rng.randrange(5, 25))
    told = Told.MESSAGE if telling.chance(0.15) else Told.TOLD
    booked = yield from telling.book(kind, told=told, in_person=in_person)
    if telling.chance(LOGGED):
        telling.ring(Reached.SPOKE, f"Rang with the appointment of {booked.appointment.on:%d %b}.")
    for share, fall_through in ((MISSED, miss), (CANCELLED, cancel), (CANCELLED_HERE, cancel_here)):
        if telling.chance(share):
            fall_through(telling, booked)
            telling.later(telling.rng.randrange(3, 7) if telling.chance(LEFT_LYING) else telling.rng.randrange(0, 2))
            return (yield from keep(telling, kind, in_person=in_person))
    telling.go(booked.appointment.on)
    return booked


def attend(telling: Telling, booked: Booked, find: Find) -> None:
    if telling.chance(WRITTEN_UP_LATE):
        telling.later(telling.rng.randrange(1, 4))
    seen = [episode for episode in telling.episodes if episode.pk in booked.episodes]
    telling.attended(booked, [find(telling, episode) for episode in seen])


def miss(telling: Telling, booked: Booked) -> None:
    telling.go(booked.appointment.on)
    telling.ended(booked, Outcome.DID_NOT_ATTEND)
    reached = telling.rng.choice([Reached.NO_ANSWER, Reached.MESSAGE, Reached.SPOKE])
    telling.ring(reached, "Did not attend; rang the same day.")


def cancel(telling: Telling, booked: Booked) -> None:
    """The patient rings, mostly a day or two before."""
    telling.go(_before(telling, booked))
    why = telling.rng.choice(["unwell", "no transport", "away", "at work that day"])
    telling.ended(booked, Outcome.CANCELLED_BY_PATIENT, why)


def cancel_here(telling: Telling, booked: Booked) -> None:
    telling.go(_before(telling, booked))
    telling.ended(booked, Outcome.CANCELLED_BY_CLINIC, "therapist away")
    telling.tell(booked)


def _before(telling: Telling, booked: Booked) -> date:
    day = booked.appointment.on - timedelta(days=telling.rng.randrange(0, 4))
    return max(telling.open_from(telling.day), min(telling.open_from(day), booked.appointment.on))
