"""A visit from its booking to its record, and what comes between: missed, cancelled, written up late."""

from collections.abc import Callable
from datetime import date, timedelta

from caseload.actions import reviews
from caseload.demo.telling import Booked, Part, Sayings, Story, Telling
from caseload.models import Episode, Reached, Told
from caseload.timetable.terms import FollowUpKind, Outcome

Look = Callable[[Telling, Episode, date], Sayings]

MISSED, CANCELLED, CANCELLED_HERE = 0.06, 0.05, 0.02
WRITTEN_UP_LATE = 0.05
FORGOTTEN = 0.08
"""So often nobody books the next visit when it is agreed."""
LEFT_LYING = 0.3
"""So often nobody rings at once after a missed or cancelled visit."""
LOGGED = 0.2


def visit(telling: Telling, kind: FollowUpKind, look: Look) -> Story:
    """Book, live until the day, and record what was found in each of the episodes it was for."""
    booked = yield from keep(telling, kind)
    attend(telling, booked, look)


def keep(telling: Telling, kind: FollowUpKind) -> Part[Booked]:
    """Book a visit and live until its day; what falls through is booked again."""
    if telling.chance(FORGOTTEN):
        telling.later(telling.rng.randrange(5, 25))
    booked = yield from telling.book(kind, told=Told.MESSAGE if telling.chance(0.15) else Told.TOLD)
    if telling.chance(LOGGED):
        telling.ring(Reached.SPOKE, f"Rang with the appointment of {booked.appointment.on:%d %b}.")
    for share, fall_through in ((MISSED, miss), (CANCELLED, cancel), (CANCELLED_HERE, cancel_here)):
        if telling.chance(share):
            fall_through(telling, booked)
            telling.later(telling.rng.randrange(3, 7) if telling.chance(LEFT_LYING) else telling.rng.randrange(0, 2))
            return (yield from keep(telling, kind))
    telling.go(booked.appointment.on)
    return booked


def attend(telling: Telling, booked: Booked, look: Look) -> None:
    on = booked.appointment.on
    if telling.chance(WRITTEN_UP_LATE):
        telling.later(telling.rng.randrange(1, 4))
    for episode in telling.episodes:
        if episode.pk in booked.episodes and (sayings := look(telling, episode, on)):
            telling.record(episode, sayings)
    telling.ended(booked, Outcome.ATTENDED)


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


def set_review(telling: Telling) -> None:
    """The therapist wants to see the hand again in some weeks."""
    days, minutes = telling.rng.choice([10, 14, 14, 21]), telling.rng.choice([20, 20, 40])
    by = telling.by(telling.therapist)
    reviews.set_review(telling.episodes[0], by=by, on=telling.day, in_days=days, minutes=minutes)


def _before(telling: Telling, booked: Booked) -> date:
    day = booked.appointment.on - timedelta(days=telling.rng.randrange(0, 4))
    return max(telling.open_from(telling.day), min(telling.open_from(day), booked.appointment.on))
