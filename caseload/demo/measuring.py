"""What is measured of an operated hand as it recovers: drawn once for each hand, then falling or rising with the days.

Degrees, kilograms, centimetres. The numbers are rough (from memory of common practice), enough for curves that look as
they do at work.
"""

from collections.abc import Callable, Collection
from datetime import date, timedelta
from math import exp
from random import Random
from typing import Final, NamedTuple

from caseload.measures.bodies import Body, Grip, Infection, Motion, Pain, QuickDash, Reach, Swelling, Trigger
from caseload.measures.disability import HIGHEST, ITEMS, LOWEST
from caseload.measures.terms import InfectionKind, Joint, MeasureKind, TriggerScale
from caseload.timetable.terms import Digit

FINGER: Final = {Joint.MCP: 90, Joint.PIP: 105, Joint.DIP: 70}
THUMB: Final = {Joint.MCP: 60, Joint.IP: 80}
"""How far the joints of a sound digit bend."""
SHARES: Final = {Joint.MCP: 0.3, Joint.PIP: 0.9, Joint.DIP: 1.0, Joint.IP: 0.9}
"""How much of the stiffness each joint feels."""
LAGS: Final = {Joint.PIP: 45, Joint.DIP: 15, Joint.IP: 25}
"""What is missing to straight where the digit is wholly stiff."""
GRADES: Final = {TriggerScale.QUINNELL: (("2", "3", "3"), ("0", "0", "1")), TriggerScale.GREEN: (("II", "III"), ("I",))}
"""Grades of triggering before and after the release."""
TRIALS: Final = 3
COMPARED_FROM: Final = 21
ANTIBIOTIC_DAYS: Final = 5


class Curve(NamedTuple):
    """From `start` on the day of surgery towards `rest`: in so many `days` about two thirds of the way."""

    start: float
    rest: float
    days: float

    def on(self, day: int) -> float:
        return self.rest + (self.start - self.rest) * exp(-max(day, 0) / self.days)


class Hand:
    """The numbers of one operated hand and of the other one. `day` counts from surgery: 0 is the morning before it."""

    def __init__(self, rng: Random) -> None:
        slow = rng.uniform(0.75, 1.3)
        self._rng = rng
        self._pain = Curve(rng.uniform(5, 8), rng.choice((0, 0, 0, 0.3, 1)), 15 * slow)
        self._stiff = Curve(rng.uniform(0.45, 0.7), rng.choice((0, 0, 0.02, 0.06)), 24 * slow)
        self._swollen = Curve(rng.uniform(1.6, 3.0), rng.choice((0, 0.1, 0.2)), 24 * slow)
        self._weak = Curve(rng.uniform(0.65, 0.85), rng.choice((0, 0.05, 0.1)), 34 * slow)
        self._hindered = Curve(rng.uniform(2.0, 3.0), rng.uniform(0.05, 0.3), 26 * slow)
        self._leanings = [rng.gauss(0, 0.5) for _ in range(ITEMS)]
        self._girth, self._grip = rng.uniform(39, 47), min(48.0, max(14.0, rng.gauss(27, 7)))
        self._scale = rng.choice((TriggerScale.QUINNELL, TriggerScale.QUINNELL, TriggerScale.GREEN))
        self._before, self._after = (rng.choice(grades) for grades in GRADES[self._scale])

    def pain(self, day: int) -> Pain:
        return Pain(round(self._pain.on(day)))

    def swelling(self, day: int) -> Swelling:
        return Swelling(round(self._girth + self._swollen.on(day), 1), round(self._girth, 1))

    def motion(self, day: int, digit: Digit, *, other: bool) -> Motion:
        """To the nearest five degrees, as a goniometer is read."""
        sound, stiff = THUMB if digit == Digit.THUMB else FINGER, self._stiff.on(day)
        joints = {joint: _reach(joint, flexion, stiff) for joint, flexion in sound.items()}
        return Motion(joints, {joint: Reach(flexion, 0) for joint, flexion in sound.items()} if other else {})

    def trigger(self, day: int) -> Trigger:
        return Trigger(self._scale, self._before if day == 0 else self._after)

    def grip(self, day: int) -> Grip:
        return Grip(self._trials(self._grip * (1 - self._weak.on(day))), self._trials(self._grip))

    def quickdash(self, day: int) -> QuickDash:
        mean = LOWEST + self._hindered.on(day)
        answers = (round(mean + leaning) for leaning in self._leanings)
        return QuickDash(tuple(min(HIGHEST, max(LOWEST, answer)) for answer in answers))

    def measured(self, kinds: Collection[MeasureKind], day: int, digit: Digit) -> dict[MeasureKind, Body]:
        """Of each kind; from three weeks on the same digit of the other hand is measured too."""
        ways: dict[MeasureKind, Callable[[], Body]] = {
            MeasureKind.PAIN: lambda: self.pain(day),
            MeasureKind.SWELLING: lambda: self.swelling(day),
            MeasureKind.MOTION: lambda: self.motion(day, digit, other=day >= COMPARED_FROM),
            MeasureKind.TRIGGER: lambda: self.trigger(day),
            MeasureKind.GRIP: lambda: self.grip(day),
            MeasureKind.QUICKDASH: lambda: self.quickdash(day),
        }
        return {kind: measure() for kind, measure in ways.items() if kind in kinds}

    def _trials(self, kilograms: float) -> tuple[float, ...]:
        return tuple(round(max(1.0, kilograms * self._rng.uniform(0.94, 1.04)) * 2) / 2 for _ in range(TRIALS))


def infection(on: date) -> Infection:
    return Infection(InfectionKind.SUPERFICIAL, "flucloxacillin", on, on + timedelta(days=ANTIBIOTIC_DAYS))


def _reach(joint: Joint, flexion: int, stiff: float) -> Reach:
    return Reach(_fives(flexion * (1 - stiff * SHARES[joint])), _fives(LAGS.get(joint, 0) * stiff))


def _fives(degrees: float) -> int:
    return 5 * round(degrees / 5)
