"""The many: patients as they come, drawn by chance, each with a story of their own."""

from contextlib import suppress
from datetime import date, timedelta
from random import Random
from typing import Any

from caseload.demo.hands import birth_date, hand
from caseload.demo.names import People
from caseload.demo.people import FERNHOLLOW, QUAY_STREET, RECEIVERS, REFERRERS, SURGEONS
from caseload.demo.stage import TEN_TO_FOURTEEN, TWO_WEEK, Stage
from caseload.demo.stories import recovery
from caseload.demo.telling import Cut, Over, Story, Telling
from caseload.parsing.answers import Priority
from caseload.timetable.terms import Digit, Ending, Suture

HALF_A_YEAR = 182
AHEAD = 12
"""Surgery is planned so many days ahead."""
AT_WEEKENDS = 0.02
TWO_DIGITS = 0.06
SEEN_BEFORE = 0.5
"""So many of those known before their operation are examined then."""
CUTS = {Ending.TRANSFERRED: 0.02, Ending.REFERRED_BACK: 0.01, Ending.DIED: 0.007, Ending.REOPERATION: 0.012}
REASONS = ("stiff before the operation", "two digits", "needs the hand at work", "cannot bend it fully", "")


def live(stage: Stage, people: People, rng: Random) -> Story:
    """One patient's story, with a second operation where the first one did not last."""
    telling = Telling(stage, rng, _site(rng), surgery_day(stage, rng))
    telling.cut = _cut(telling)
    again = telling.cut if telling.cut and telling.cut.how == Ending.REOPERATION else None
    with suppress(Over):
        arrive(telling, people)
        yield from recovery(telling)
    if again and telling.cut is None:
        yield from operated_again(telling, again.on)


def surgery_day(stage: Stage, rng: Random) -> date:
    """Mostly a working day of the last half year; a few are planned."""
    day = stage.today - timedelta(days=rng.randrange(-AHEAD, HALF_A_YEAR))
    if rng.random() < AT_WEEKENDS:
        return day
    around = [day - timedelta(days=back) for back in rng.sample(range(7), 7)]
    return day if stage.theatre_runs(day) else next((each for each in around if stage.theatre_runs(each)), day)


def arrive(telling: Telling, people: People) -> None:
    """Onto the caseload with the theatre list, a day or two after surgery; what is planned comes before."""
    rng = telling.rng
    born_on = birth_date(rng, telling.surgery_on)
    planned = telling.surgery_on > telling.until or telling.chance(0.08)
    known_on = telling.surgery_on + timedelta(days=-rng.randrange(5, 25) if planned else rng.choice([0, 1, 1, 1, 2, 3]))
    telling.go(telling.open_from(min(known_on, telling.until)))
    telling.meet(people.draw(born_on))
    facts = hand(rng, born_on, telling.surgery_on)
    if facts["for_therapy"]:
        priority = Priority.URGENT if telling.chance(0.15) else Priority.ROUTINE
        telling.refer(source=rng.choice(REFERRERS), priority=priority, reason=rng.choice(REASONS))
    open_digits(telling, facts)
    if planned and telling.surgery_on <= telling.until and telling.chance(SEEN_BEFORE):
        telling.see_before()


def open_digits(telling: Telling, facts: dict[str, Any]) -> None:
    """One episode for each digit; a second digit of the same hand was closed in the same way."""
    surgeon = telling.rng.choice(SURGEONS)
    rules = telling.stage.rules[TEN_TO_FOURTEEN if surgeon == SURGEONS[2] else TWO_WEEK]
    telling.open(**facts, surgeon=surgeon, rules=rules)
    if facts["digit"] != Digit.THUMB and telling.chance(TWO_DIGITS):
        digit = Digit.MIDDLE if facts["digit"] == Digit.RING else Digit.RING
        telling.open(**(facts | {"digit": digit}), surgeon=surgeon, rules=rules)


def operated_again(first: Telling, surgery_on: date) -> Story:
    """The same digits once more; each old episode is closed with the opening of its next."""
    telling = Telling(first.stage, first.rng, first.site.name, surgery_on)
    telling.patient = first.patient
    telling.go(telling.open_from(surgery_on))
    for old in first.episodes:
        facts = {name: getattr(old, name) for name in KEPT}
        telling.open_after(old, **facts, suture=Suture.NON_ABSORBABLE, stitches_in=4, notes="Released again.")
    yield from recovery(telling)


KEPT = ("side", "digit", "surgeon", "risks", "raised_risk", "for_therapy", "dominant", "work", "rules", "referral")


def _site(rng: Random) -> str:
    return FERNHOLLOW if rng.random() < 0.62 else QUAY_STREET


def _cut(telling: Telling) -> Cut | None:
    how = telling.rng.choices([None, *CUTS], weights=[1 - sum(CUTS.values()), *CUTS.values()])[0]
    if how is None:
        return None
    on = telling.open_from(telling.surgery_on + timedelta(days=telling.rng.randrange(10, 70)))
    handed = how in (Ending.TRANSFERRED, Ending.REFERRED_BACK)
    return Cut(on, how, telling.rng.choice(RECEIVERS) if handed else "")
