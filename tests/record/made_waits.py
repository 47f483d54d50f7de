"""Invented waits as rows, written past every act: for what is counted of them, and how quickly."""

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from random import Random
from typing import Any

from caseload.models import Episode, Referral, Staff, Wait
from caseload.parsing import Priority
from caseload.timetable.terms import Suture
from caseload.waits.terms import COMPETING, STORED, Clock, End
from tests.scenario import Fernhollow, by

OF_REFERRAL = (Clock.FIRST_VISIT, Clock.OFFERED)
SURGEONS = ("", "Ms Alder", "Mr O’Brien, junior", 'Mr "Q" Ash')


def made(
    clinic: Fernhollow, size: int, *, since: date, days: int, until: date, seed: int = 1,
    clocks: Sequence[Clock] = STORED, people: int = 2, surgeons: Sequence[str] = SURGEONS, named: str = "",
) -> list[Wait]:  # fmt: skip
    """So many waits that began on one of `days` days from `since`; what has not stopped by `until` is still waiting."""
    rng = Random(seed)
    ground = [_ground(clinic) for _ in range(people)]
    staff = [None, clinic.therapist, *(_therapist(f"tess{named}{place}") for place in range(people))]
    began = sorted(since + timedelta(days=rng.randrange(days)) for _ in range(size))
    sites = (clinic.site, clinic.quay)
    of: Iterator[dict[str, Any]] = (
        {"site": rng.choice(sites), "therapist": rng.choice(staff), "surgeon": rng.choice(surgeons)} for _ in began
    )
    rows = [
        _wait(rng, place, on, until, rng.choice(clocks), *rng.choice(ground), **each)
        for (place, on), each in zip(enumerate(began), of, strict=True)
    ]
    return Wait.objects.bulk_create(rows, batch_size=2000)


def _ground(clinic: Fernhollow) -> tuple[Referral, Episode]:
    patient = clinic.patient()
    referral = Referral.objects.create(
        patient=patient, received_on=date(2025, 1, 1), source="a general practice", recorded_at=by().at
    )
    return referral, clinic.episode(patient)


def _therapist(username: str) -> Staff:
    return Staff.objects.create(username=username, name=f"{username.title()} Marsh", is_therapist=True)


def _wait(
    rng: Random, place: int, on: date, until: date, clock: Clock, referral: Referral, episode: Episode, **of: Any
) -> Wait:
    stop = on + timedelta(days=int(rng.gammavariate(2, 11)))
    ended = End.SEEN if rng.random() < 0.85 else rng.choice(COMPETING)
    open_still = stop > until
    suture = rng.choice([*Suture, ""]) if clock not in OF_REFERRAL else ""
    priority = rng.choice([*Priority, Priority.ROUTINE]) if clock in OF_REFERRAL else ""
    own = {"referral": referral} if clock in OF_REFERRAL else {"episode": episode}
    return Wait(
        clock=clock, key=f"{clock}:{place}", patient=referral.patient, **own, started_on=on,
        entered_on=on + timedelta(days=rng.randrange(1, 20)) if rng.random() < 0.1 else None,
        stopped_on=None if open_still else stop, ended=End.WAITING if open_still else ended,
        suture=suture, priority=priority, **_target(rng, clock, on, priority),
        **(_missed(rng, on, min(stop, until)) if clock is Clock.FIRST_VISIT else {}), **of,
    )  # fmt: skip


def _target(rng: Random, clock: Clock, on: date, priority: str) -> dict[str, date]:
    if clock is Clock.OFFERED:
        return {}
    if clock is Clock.STITCHES_OUT:
        names = ("earliest_on", "target_on", "due_on")
        late = rng.randrange(3)
        return {name: on + timedelta(days=days + late) for name, days in zip(names, (10, 12, 14), strict=True)}
    days = 21 if clock is Clock.WOUND_CLOSED else 7 if priority == Priority.URGENT else 14
    return {"due_on": on + timedelta(days=days)}


def _missed(rng: Random, on: date, until: date) -> dict[str, date]:
    """One in five missed the first visit, and most of those had another one booked."""
    long = (until - on).days
    if rng.random() > 0.2 or long < 2:
        return {}
    missed = rng.randrange(1, long)
    again = rng.randrange(missed, long)
    days = {"missed_on": missed} | ({"restarted_on": again} if rng.random() < 0.7 else {})
    return {name: on + timedelta(days=day) for name, day in days.items()}
