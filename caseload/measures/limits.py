"""Which values are questioned before they are saved, and which cannot be.

Decides, for each value as it is typed, whether it is usual. What is unusual is asked back and may be confirmed; what
is impossible is refused. Degrees, kilograms, centimetres.

Assumes these limits for the clinic to agree to (judgement): MCP flexion 0 to 110, PIP 0 to 120, DIP 0 to 100,
deficits -30 to 90. They are wider than the usual ranges of the AAOS (MCP 0-90, PIP 0-100, DIP 0-90, thumb MCP 0-50
and IP 0-80: brainscape.com). For the thumb MCP 0 to 80 and IP 0 to 100, a guess of the same width. Grip 0 to 90 kg,
figure of eight 30 to 60 cm (judgement). Pain is a whole number from 0 to 10; QuickDASH has eleven answers of 1 to 5.
"""

from collections.abc import Callable, Iterator, Mapping
from typing import Any, Final, NamedTuple

from caseload.errors import Refusal
from caseload.measures.bodies import Body, Grip, Infection, Motion, Pain, QuickDash, Reach, Swelling, Trigger
from caseload.measures.disability import HIGHEST, ITEMS, LOWEST
from caseload.measures.grades import grades_of, is_grade
from caseload.measures.motion import joints_of
from caseload.measures.terms import Joint
from caseload.timetable.terms import Digit

MOST_TRIALS: Final = 3
MOST_PAIN: Final = 10
FINGER_FLEXION: Final = {Joint.MCP: (0, 110), Joint.PIP: (0, 120), Joint.DIP: (0, 100)}
THUMB_FLEXION: Final = {Joint.MCP: (0, 80), Joint.IP: (0, 100)}
DEFICIT: Final = (-30, 90)
KILOGRAMS: Final = (0, 90)
CENTIMETRES: Final = (30, 60)
POSSIBLE_FLEXION: Final = (-30, 180)
POSSIBLE_DEFICIT: Final = (-90, 180)
POSSIBLE_KILOGRAMS: Final = (0, 200)
MOST_CENTIMETRES: Final = 100


class Doubt(NamedTuple):
    """A value outside `low` to `high`, which are usual. `field` is as in the forms, without the mark of a digit."""

    field: str
    value: float
    low: float
    high: float


def doubts(body: Body, digit: Digit) -> tuple[Doubt, ...]:
    """The unusual values of a body that is possible, in the order in which they are typed."""
    usual = _USUAL.get(type(body))
    return tuple(_outside(usual(body, digit))) if usual else ()


def refuse_impossible(body: Body, digit: Digit) -> None:
    """Raises Refusal `impossible`, with the `field` of the first value that cannot be."""
    _IMPOSSIBLE[type(body)](body, digit)


def _outside(values: Iterator[Doubt]) -> Iterator[Doubt]:
    return (each for each in values if not each.low <= each.value <= each.high)


def _angles(motion: Motion) -> Iterator[tuple[str, Joint, Reach]]:
    """The first part of the names of both fields of a joint, the joint and its angles; the operated digit first."""
    for before, joints in (("", motion.joints), ("other_", motion.other)):
        for joint, reach in joints.items():
            yield f"{before}{joint}", joint, reach


def _usual_angles(motion: Motion, digit: Digit) -> Iterator[Doubt]:
    limits = THUMB_FLEXION if digit is Digit.THUMB else FINGER_FLEXION
    for name, joint, reach in _angles(motion):
        if reach.flexion is not None:
            yield Doubt(f"{name}_flexion", reach.flexion, *limits[joint])
        if reach.deficit is not None:
            yield Doubt(f"{name}_deficit", reach.deficit, *DEFICIT)


def _girths(swelling: Swelling) -> Iterator[tuple[str, float]]:
    """The girths that were measured, by field."""
    for name, value in (("swelling_cm", swelling.cm), ("swelling_other_cm", swelling.other_cm)):
        if value is not None:
            yield name, value


def _usual_girth(swelling: Swelling, _: Digit) -> Iterator[Doubt]:
    return (Doubt(name, value, *CENTIMETRES) for name, value in _girths(swelling))


def _trials(grip: Grip) -> Iterator[tuple[str, float]]:
    """Every trial, by field; the operated hand first."""
    for name, trials in (("grip", grip.trials), ("grip_other", grip.other)):
        for place, trial in enumerate(trials, 1):
            yield f"{name}_{place}", trial


def _usual_grip(grip: Grip, _: Digit) -> Iterator[Doubt]:
    return (Doubt(name, trial, *KILOGRAMS) for name, trial in _trials(grip))


_USUAL: Final[Mapping[type, Callable[[Any, Digit], Iterator[Doubt]]]] = {
    Motion: _usual_angles, Swelling: _usual_girth, Grip: _usual_grip,
}  # fmt: skip


def _refuse(field: str, sentence: str) -> None:
    raise Refusal("impossible", sentence, field=field)


def _hold(field: str, value: float | None, limits: tuple[float, float], unit: str) -> None:
    low, high = limits
    if value is not None and not low <= value <= high:
        said = f"{value:g}{unit} cannot be: it lies outside {low:g} to {high:g}{unit}. Type it again."
        _refuse(field, said.replace("-", "\N{MINUS SIGN}"))


def _possible_angles(motion: Motion, digit: Digit) -> None:
    for name, joint, reach in _angles(motion):
        if joint not in joints_of(digit):
            _refuse(f"{name}_flexion", f"This digit has no {joint.upper()} joint.")
        _hold(f"{name}_flexion", reach.flexion, POSSIBLE_FLEXION, "°")
        _hold(f"{name}_deficit", reach.deficit, POSSIBLE_DEFICIT, "°")


def _possible_girth(swelling: Swelling, _: Digit) -> None:
    for name, value in _girths(swelling):
        if not 0 < value <= MOST_CENTIMETRES:
            _refuse(name, f"{value:g} cm round a hand cannot be. Type it again, in centimetres.")


def _possible_grip(grip: Grip, _: Digit) -> None:
    for name, trials in (("grip", grip.trials), ("grip_other", grip.other)):
        if len(trials) > MOST_TRIALS:
            _refuse(f"{name}_{MOST_TRIALS}", f"Up to three trials are kept of each hand, not {len(trials)}.")
        for place, trial in enumerate(trials, 1):
            _hold(f"{name}_{place}", trial, POSSIBLE_KILOGRAMS, " kg")


def _possible_pain(pain: Pain, _: Digit) -> None:
    _hold("pain", pain.score, (0, MOST_PAIN), "")


def _possible_answers(dash: QuickDash, _: Digit) -> None:
    if len(dash.answers) != ITEMS:
        _refuse("dash_1", f"There are eleven answers, left out or given, not {len(dash.answers)}.")
    for place, answer in enumerate(dash.answers, 1):
        _hold(f"dash_{place}", answer, (LOWEST, HIGHEST), "")


def _possible_grade(trigger: Trigger, _: Digit) -> None:
    if not is_grade(trigger):
        grades = ", ".join(grades_of(trigger.scale))
        _refuse("trigger_grade", f"{trigger.grade} is no grade of {trigger.scale.title()}'s scale: it has {grades}.")


def _possible_days(infection: Infection, _: Digit) -> None:
    if infection.from_on and infection.until_on and infection.until_on < infection.from_on:
        _refuse("antibiotic_until", "The antibiotic cannot end before it begins. Correct one of the two days.")


_IMPOSSIBLE: Final[Mapping[type, Callable[[Any, Digit], None]]] = {
    Infection: _possible_days, Pain: _possible_pain, Swelling: _possible_girth, Motion: _possible_angles,
    Trigger: _possible_grade, Grip: _possible_grip, QuickDash: _possible_answers,
}  # fmt: skip
