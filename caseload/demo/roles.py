"""Roles: stories written for one end each, so that whatever the day everything there is to see can be seen.

A role names the days since surgery that suit it; the first of them on which theatre ran is taken.
"""

from collections.abc import Callable
from datetime import date, timedelta
from random import Random
from typing import Any, NamedTuple

from caseload.demo.names import People
from caseload.demo.people import FERNHOLLOW, REFERRERS, SURGEONS
from caseload.demo.stage import TWO_WEEK, Stage
from caseload.demo.telling import Story, Telling
from caseload.timetable.terms import Digit, Side, Suture, Technique

Play = Callable[[Telling], Story]
USUAL: dict[str, Any] = {
    "side": Side.RIGHT, "digit": Digit.RING, "technique": Technique.OPEN, "suture": Suture.NON_ABSORBABLE,
    "stitches_in": 4, "material": "nylon 5-0", "surgeon": SURGEONS[0], "dominant": Side.RIGHT, "for_therapy": True,
}  # fmt: skip
ABSORBABLE: dict[str, Any] = {"suture": Suture.ABSORBABLE, "stitches_in": 3, "material": "polyglactin 5-0"}
UNSTITCHED: dict[str, Any] = {"suture": Suture.NONE, "stitches_in": None, "material": ""}
NEEDLE = UNSTITCHED | {"technique": Technique.PERCUTANEOUS}
UNKNOWN: dict[str, Any] = {"suture": Suture.UNKNOWN, "stitches_in": None, "material": ""}


class Role(NamedTuple):
    """`before_visit` counts the days back from the last open day before today instead of from today; `known` is the
    day after surgery (or, below zero, before it) on which the patient comes onto the caseload."""

    play: Play
    days: tuple[int, ...]
    before_visit: bool
    person: dict[str, Any]
    facts: dict[str, Any]
    site: str
    age: int | None
    known: int


CAST: list[Role] = []


def role(
    *days: int,
    before_visit: bool = False,
    person: dict[str, Any] | None = None,
    site: str = FERNHOLLOW,
    age: int | None = None,
    known: int = 1,
    **facts: Any,
) -> Callable[[Play], Play]:
    """Put a story on the cast list, under the facts of its hand where they are not the usual ones."""

    def keep(play: Play) -> Play:
        CAST.append(Role(play, days, before_visit, person or {}, USUAL | facts, site, age, known))
        return play

    return keep


def cast(part: Role, stage: Stage, people: People, rng: Random) -> Story:
    """The story of a role: onto the caseload mostly the day after surgery, then as it is written."""
    telling = Telling(stage, rng, part.site, _surgery_day(part, stage))
    telling.smooth = True
    known_on = telling.surgery_on + timedelta(days=part.known)
    telling.go(min(telling.open_from(known_on), telling.until))
    born_on = _birth_date(part, telling.surgery_on, rng)
    telling.meet(people.draw(born_on) | part.person)
    if part.facts["for_therapy"]:
        telling.refer(source=rng.choice(REFERRERS))
    telling.open(rules=stage.rules[TWO_WEEK], **part.facts)
    yield from part.play(telling)


def _birth_date(part: Role, surgery_on: date, rng: Random) -> date:
    """By the age that the role asks for; otherwise that of a grown-up, drawn by chance."""
    years = max(19.0, rng.gauss(60, 12)) if part.age is None else part.age
    return surgery_on - timedelta(days=round(years * 365.25) + rng.randrange(300))


def last_visit_day(telling: Telling) -> date:
    """The last open day before today."""
    return _last_open(telling.stage, telling.site.name)


def next_visit_day(telling: Telling) -> date:
    """Today, if the site is open, or the next day that it is."""
    return telling.open_from(telling.stage.today)


def _last_open(stage: Stage, site: str) -> date:
    calendar, yesterday = stage.calendars[stage.sites[site].pk], stage.today - timedelta(days=1)
    days = calendar.open_days(stage.today - timedelta(days=20), yesterday)
    return days[-1] if days else yesterday


def _surgery_day(part: Role, stage: Stage) -> date:
    base = _last_open(stage, part.site) if part.before_visit else stage.today
    days = [base - timedelta(days=count) for count in part.days]
    return next((day for day in days if stage.theatre_runs(day)), days[0])
