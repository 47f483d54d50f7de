"""Short words for building episodes in tests, and the two rule sets and the calendar that they are derived on."""

import json
from collections.abc import Iterable
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from caseload.timetable.calendar import OpenDays
from caseload.timetable.derive import derive
from caseload.timetable.effect import Effect
from caseload.timetable.facts import Appointment, EpisodeFacts, Finding, Instruction
from caseload.timetable.plan import Activity, Concern, FollowUp, Timetable
from caseload.timetable.regions import open_days, region_named, regions_from_json
from caseload.timetable.rules import RuleSet
from caseload.timetable.terms import (
    ActivityKind,
    Digit,
    FindingKind,
    FollowUpKind,
    Headline,
    Side,
    Source,
    Suture,
    WoundState,
)

FIXTURES = Path(__file__).parents[2] / "fixtures"
REGIONS = regions_from_json(json.loads((FIXTURES / "regions.json").read_text()))
ENGLAND = open_days(region_named(REGIONS, "GB-ENG"))


def rule_body(name: str) -> dict[str, Any]:
    body: dict[str, Any] = json.loads((FIXTURES / "rules" / f"{name}.json").read_text())
    return body


TWO_WEEK = RuleSet.from_json(rule_body("two-week"))
TEN_TO_FOURTEEN = RuleSet.from_json(rule_body("ten-to-fourteen"))

SURGERY = date(2026, 2, 3)
"""A Tuesday with no public holiday near: day 14 is a Tuesday too."""


def day(text: str) -> date:
    return date.fromisoformat(text)


def after(days: int, surgery_on: date = SURGERY) -> date:
    return surgery_on + timedelta(days=days)


def episode(surgery_on: date | None = SURGERY, **facts: Any) -> EpisodeFacts:
    """An episode with every fact known; non-absorbable stitches unless said otherwise."""
    known = {"side": Side.LEFT, "digit": Digit.RING, "suture": Suture.NON_ABSORBABLE}
    return EpisodeFacts(surgery_on=surgery_on, **(known | facts))


def stitches(on: date, out: int = 4, left: int = 0, ref: str = "s1", **said: Any) -> Finding:
    return Finding(ref, FindingKind.STITCHES, on, out=out, left=left, **said)


def wound(on: date, state: WoundState = WoundState.CLOSED, ref: str = "w1", **said: Any) -> Finding:
    return Finding(ref, FindingKind.WOUND, on, state=state, **said)


def trim_needed(on: date, ref: str = "t1", **said: Any) -> Finding:
    return Finding(ref, FindingKind.TRIM_NEEDED, on, **said)


def trimmed(on: date, ref: str = "t2", **said: Any) -> Finding:
    return Finding(ref, FindingKind.TRIMMED, on, **said)


def red_flag(on: date, ref: str = "r1", **said: Any) -> Finding:
    return Finding(ref, FindingKind.RED_FLAG, on, **said)


def out_and_closed(on: date) -> tuple[Finding, Finding]:
    return stitches(on), wound(on)


def booked(on: date, *serves: str, **said: Any) -> Appointment:
    return Appointment(on, serves or ("stitches-out",), **said)


def order(item: str, **said: Any) -> Instruction:
    return Instruction(item, by="the surgeon", why="tendon repaired as well", **said)


def fresh() -> OpenDays:
    """England & Wales without anything remembered from another test."""
    return OpenDays(ENGLAND.weekdays, ENGLAND.holidays, ENGLAND.covered_from, ENGLAND.covered_until)


def plan(
    facts: EpisodeFacts, as_of: date = SURGERY, rules: RuleSet = TWO_WEEK, calendar: OpenDays | None = None
) -> Timetable:
    return derive(facts, rules, calendar or fresh(), as_of=as_of)


def the(timetable: Timetable, kind: str) -> FollowUp:
    """The only follow-up of a kind, or with a key."""
    (found,) = (each for each in timetable.follow_ups if kind in (each.kind, each.key))
    return found


def kinds(timetable: Timetable) -> list[FollowUpKind]:
    return [each.kind for each in timetable.follow_ups]


def doing(timetable: Timetable, kind: ActivityKind) -> Activity:
    (found,) = (each for each in timetable.activities if each.kind is kind)
    return found


def concern(timetable: Timetable, headline: Headline) -> Concern | None:
    return next((each for each in timetable.concerns if each.headline is headline), None)


def about(timetable: Timetable, headline: Headline, follow_up: str) -> Concern | None:
    found = [each for each in timetable.concerns if (each.headline, each.follow_up) == (headline, follow_up)]
    assert len(found) < 2
    return found[0] if found else None


def window_of(follow_up: FollowUp) -> tuple[date, date, date]:
    return follow_up.earliest_on, follow_up.target_on, follow_up.latest_on


def days_of(follow_up: FollowUp) -> tuple[int, int, int]:
    """A window as days from its own anchor."""
    earliest, target, latest = ((each - follow_up.anchor_on).days for each in window_of(follow_up))
    return earliest, target, latest


def codes(reasons: tuple[Any, ...]) -> list[str]:
    return [reason.code for reason in reasons]


PATIENT, REPORTED, PHOTO = Source.PATIENT, Source.REPORTED, Source.PHOTO


def effect_of(pairs: Iterable[tuple[Timetable, Timetable]], today: date) -> Effect:
    """The effect over episodes, each as it is derived now and as it would be."""
    effect = Effect()
    for now, changed in pairs:
        effect.count(now, changed, today)
    return effect
