"""Operated hands as a trigger finger list has them, and the people they belong to: ages, digits, sutures, risks.

The shares are rough (from memory of common practice), enough for lists that look as they do at work.
"""

from datetime import date, timedelta
from random import Random
from typing import Any

from caseload.models import Work
from caseload.parsing.answers import Risk
from caseload.timetable.activities import ADULT_AGE
from caseload.timetable.terms import Digit, Side, Suture, Technique

MATERIALS = {
    Suture.NON_ABSORBABLE: ("nylon 4-0", "nylon 5-0", "polypropylene 5-0"),
    Suture.ABSORBABLE: ("polyglactin 5-0", "poliglecaprone 5-0"),
}
_DIGITS = {Digit.RING: 33, Digit.MIDDLE: 27, Digit.THUMB: 24, Digit.LITTLE: 8, Digit.INDEX: 8}
_OPEN = {Suture.NON_ABSORBABLE: 64, Suture.ABSORBABLE: 24, Suture.NONE: 6, Suture.UNKNOWN: 6}
_PERCUTANEOUS = {Suture.NONE: 92, Suture.NON_ABSORBABLE: 4, Suture.ABSORBABLE: 2, Suture.UNKNOWN: 2}
_RISKS = {
    Risk.DIABETES: 0.19, Risk.STEROID: 0.03, Risk.ARTHRITIS: 0.06, Risk.SMOKING: 0.12, Risk.DIALYSIS: 0.01,
    Risk.ANTICOAGULANT: 0.08, Risk.INJECTION: 0.07,
}  # fmt: skip
_HEAVY = (Risk.DIALYSIS, Risk.STEROID, Risk.DIABETES, Risk.ARTHRITIS)
CHILDREN = 0.03
RETIRED_AT = 67


def birth_date(rng: Random, surgery_on: date) -> date:
    """Mostly around sixty; a few are toddlers, whose thumbs it is."""
    years = rng.uniform(1, 6) if rng.random() < CHILDREN else min(94.0, max(19.0, rng.gauss(61, 13)))
    return surgery_on - timedelta(days=round(years * 365.25))


def hand(rng: Random, born_on: date, surgery_on: date) -> dict[str, Any]:
    """The facts of one operated digit as `actions.episodes.open_episode` takes them, without date, site and staff."""
    age = (surgery_on - born_on).days // 365
    child = age < ADULT_AGE
    technique = Technique.PERCUTANEOUS if not child and rng.random() < 0.18 else Technique.OPEN
    suture = Suture.ABSORBABLE if child else drawn(rng, _OPEN if technique == Technique.OPEN else _PERCUTANEOUS)
    risks = [] if child else _risks(rng)
    work = _work(rng, age)
    if age > 50 and work in (Work.HEAVY_MANUAL, Work.WET_OR_DIRTY):
        risks.append(Risk.MANUAL_OVER_50)
    return {
        "side": Side.RIGHT if rng.random() < 0.57 else Side.LEFT,
        "digit": Digit.THUMB if child else drawn(rng, _DIGITS),
        "technique": technique,
        **closed_with(rng, suture),
        "risks": [str(risk) for risk in risks],
        "raised_risk": any(risk in _HEAVY for risk in risks) and rng.random() < 0.5,
        "for_therapy": rng.random() < 0.55,
        "dominant": Side.RIGHT if rng.random() < 0.88 else Side.LEFT,
        "work": work,
    }


def closed_with(rng: Random, suture: Suture) -> dict[str, Any]:
    """The suture with the number of stitches and the material, as far as theatre wrote them down."""
    stitched = suture in MATERIALS
    return {
        "suture": suture,
        "stitches_in": rng.randint(2, 5) if stitched and rng.random() < 0.9 else None,
        "material": rng.choice(MATERIALS[suture]) if stitched and rng.random() < 0.7 else "",
    }


def drawn(rng: Random, shares: dict[Any, int]) -> Any:
    return rng.choices(list(shares), weights=list(shares.values()))[0]


def _risks(rng: Random) -> list[Risk]:
    return [risk for risk, share in _RISKS.items() if rng.random() < share]


def _work(rng: Random, age: int) -> str:
    if age < ADULT_AGE or age >= RETIRED_AT:
        return ""
    shares = {Work.HAND_NOT_NEEDED: 40, Work.LIGHT_MANUAL: 30, Work.HEAVY_MANUAL: 18, Work.WET_OR_DIRTY: 12}
    return str(drawn(rng, shares))
