"""The values of each kind of measure, and their form as JSON: one dataclass for each kind, with a shape number.

Degrees, kilograms, centimetres. None is a value that was not measured. `read` and `write` are each other's inverse.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Final, NamedTuple

from caseload.measures.terms import InfectionKind, Joint, MeasureKind, TriggerScale

SHAPE: Final = 1


class Reach(NamedTuple):
    """Active motion of one joint in degrees: how far it bends, and what is missing to straight (below zero: beyond)."""

    flexion: int | None
    deficit: int | None


@dataclass(frozen=True, slots=True)
class Infection:
    kind: InfectionKind
    antibiotic: str = ""
    from_on: date | None = None
    until_on: date | None = None


@dataclass(frozen=True, slots=True)
class Pain:
    """0 (none) to 10."""

    score: int


@dataclass(frozen=True, slots=True)
class Swelling:
    """Figure of eight round the hand, in centimetres."""

    cm: float | None
    other_cm: float | None = None


@dataclass(frozen=True, slots=True)
class Motion:
    """The joints of the operated digit, and those of the same digit of the other hand where they were measured."""

    joints: Mapping[Joint, Reach]
    other: Mapping[Joint, Reach] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Trigger:
    """A grade is nothing without its scale."""

    scale: TriggerScale
    grade: str


@dataclass(frozen=True, slots=True)
class Grip:
    """Trials in kilograms, up to three on each side."""

    trials: tuple[float, ...]
    other: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class QuickDash:
    """Eleven answers of 1 to 5, None where one was left out. The questions belong to their owner and are not here."""

    answers: tuple[int | None, ...]


Body = Infection | Pain | Swelling | Motion | Trigger | Grip | QuickDash
KIND_OF: Final[Mapping[type, MeasureKind]] = {
    Infection: MeasureKind.INFECTION, Pain: MeasureKind.PAIN, Swelling: MeasureKind.SWELLING,
    Motion: MeasureKind.MOTION, Trigger: MeasureKind.TRIGGER, Grip: MeasureKind.GRIP,
    QuickDash: MeasureKind.QUICKDASH,
}  # fmt: skip


def write(body: Body) -> dict[str, Any]:
    """A body as plain JSON values, with its shape number."""
    return {"shape": SHAPE} | _WRITERS[type(body)](body)


def read(kind: MeasureKind, stored: Mapping[str, Any]) -> Body:
    """A body from its JSON values. Raises ValueError for a shape that is not known here."""
    if stored.get("shape") != SHAPE:
        raise ValueError(f"shape {stored.get('shape')} of {kind} is not known")
    return _READERS[kind](stored)


def _joints(joints: Mapping[Joint, Reach]) -> dict[str, list[int | None]]:
    return {str(joint): list(reach) for joint, reach in joints.items()}


def _reaches(stored: Mapping[str, Any]) -> dict[Joint, Reach]:
    return {Joint(joint): Reach(*reach) for joint, reach in stored.items()}


def _day(stored: str | None) -> date | None:
    return date.fromisoformat(stored) if stored else None


_WRITERS: Final[Mapping[type, Callable[[Any], dict[str, Any]]]] = {
    Infection: lambda body: {
        "kind": str(body.kind), "antibiotic": body.antibiotic,
        "from_on": body.from_on and body.from_on.isoformat(), "until_on": body.until_on and body.until_on.isoformat(),
    },
    Pain: lambda body: {"score": body.score},
    Swelling: lambda body: {"cm": body.cm, "other_cm": body.other_cm},
    Motion: lambda body: {"joints": _joints(body.joints), "other": _joints(body.other)},
    Trigger: lambda body: {"scale": str(body.scale), "grade": body.grade},
    Grip: lambda body: {"trials": list(body.trials), "other": list(body.other)},
    QuickDash: lambda body: {"answers": list(body.answers)},
}  # fmt: skip
_READERS: Final[Mapping[MeasureKind, Callable[[Mapping[str, Any]], Body]]] = {
    MeasureKind.INFECTION: lambda stored: Infection(
        InfectionKind(stored["kind"]), stored["antibiotic"], _day(stored["from_on"]), _day(stored["until_on"])
    ),
    MeasureKind.PAIN: lambda stored: Pain(stored["score"]),
    MeasureKind.SWELLING: lambda stored: Swelling(stored["cm"], stored["other_cm"]),
    MeasureKind.MOTION: lambda stored: Motion(_reaches(stored["joints"]), _reaches(stored["other"])),
    MeasureKind.TRIGGER: lambda stored: Trigger(TriggerScale(stored["scale"]), stored["grade"]),
    MeasureKind.GRIP: lambda stored: Grip(tuple(stored["trials"]), tuple(stored["other"])),
    MeasureKind.QUICKDASH: lambda stored: QuickDash(tuple(stored["answers"])),
}
