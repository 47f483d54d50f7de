"""The fields of each kind of measure, shared by the page of a visit and by corrections, and the values read from them.

`fields_of` gives the fields, `values_of` fills them from a stored body, `body_of` reads a body out of what was typed.
"""

from collections.abc import Callable, Mapping
from typing import Any, Final

from django import forms
from django.utils.translation import gettext as _

from caseload.errors import Refusal
from caseload.measures.bodies import Body, Grip, Infection, Motion, Pain, QuickDash, Reach, Swelling, Trigger
from caseload.measures.disability import ITEMS
from caseload.measures.grades import grades_of
from caseload.measures.limits import MOST_TRIALS, refuse_impossible
from caseload.measures.motion import joints_of
from caseload.measures.terms import InfectionKind, Joint, MeasureKind, TriggerScale
from caseload.parsing import read_decimal, read_whole
from caseload.timetable.terms import Digit
from caseload.web.forms.fields import DayField, LineField, ReadField
from caseload.web.forms.record import words
from caseload.wording import label
from caseload.wording.measures import say_grade

Fields = dict[str, forms.Field]
Cleaned = Mapping[str, Any]


class NumberField(ReadField):
    """A number as people type it, with comma or point; cleaned it is an int (`whole`) or a float, or None."""

    def __init__(self, text: str, *, whole: bool = False, help_text: str = "") -> None:
        widget = forms.TextInput({"autocomplete": "off", "size": 5})
        super().__init__(
            read_whole if whole else read_decimal, max_length=12, required=False, label=text, widget=widget,
            empty_value=None, help_text=help_text,
        )  # fmt: skip

    def prepare_value(self, value: Any) -> Any:
        return f"{value:g}" if isinstance(value, float) else value


def fields_of(kind: MeasureKind, digit: Digit | None) -> Fields:
    """The fields of a measure by name, none of them required. No motion of a digit that is not known.

    A form that adds them after it was made sets `today` of the day fields.
    """
    return _FIELDS[kind](digit)


def values_of(body: Body) -> dict[str, Any]:
    """A body as first values of its fields."""
    return _VALUES[type(body)](body)


def body_of(kind: MeasureKind, digit: Digit | None, cleaned: Cleaned, prefix: str = "") -> Body | None:
    """The body that was typed; None where nothing was. A field that a form left out counts as left empty.

    Raises Refusal `infection-missing`, `scale-missing`, `grade-missing`, `impossible`; its `field` bears the prefix.
    """
    said = {name: cleaned.get(prefix + name) for name in fields_of(kind, digit)}
    try:
        body = _BODIES[kind](said)
        if body is not None and digit is not None:
            refuse_impossible(body, digit)
    except Refusal as refusal:
        field = f"{prefix}{refusal.details['field']}"
        raise Refusal(refusal.code, refusal.message, field=field) from None
    return body


def _infection_fields(_digit: Digit | None) -> Fields:
    return {
        "infection": forms.ChoiceField(
            label=_("Infection"), choices=lambda: words(InfectionKind, _("not recorded")), widget=forms.RadioSelect,
            required=False,
        ),
        "antibiotic": LineField(label=_("Antibiotic"), most=80, required=False),
        "antibiotic_from": DayField(label=_("From"), required=False),
        "antibiotic_until": DayField(label=_("Until"), required=False),
    }  # fmt: skip


def _pain_fields(_digit: Digit | None) -> Fields:
    return {"pain": NumberField(_("Pain, 0 to 10"), whole=True, help_text=_("0 is none, 10 the worst there can be."))}


def _swelling_fields(_digit: Digit | None) -> Fields:
    return {
        "swelling_cm": NumberField(_("Figure of eight, cm")),
        "swelling_other_cm": NumberField(_("Other hand, cm")),
    }


def _motion_fields(digit: Digit | None) -> Fields:
    joints = joints_of(digit) if digit else ()
    own = {"": _("%(joint)s bends to, degrees"), "other_": _("Other hand: %(joint)s bends to, degrees")}
    short = {
        "": _("%(joint)s short of straight, degrees"),
        "other_": _("Other hand: %(joint)s short of straight, degrees"),
    }
    return {
        f"{whose}{joint}_{part}": NumberField(texts[whose] % {"joint": label(joint)}, whole=True)
        for whose in own
        for joint in joints
        for part, texts in (("flexion", own), ("deficit", short))
    }


def _trigger_fields(_digit: Digit | None) -> Fields:
    grades = [
        (label(scale), [(grade, say_grade(Trigger(scale, grade))) for grade in grades_of(scale)])
        for scale in TriggerScale
    ]
    return {
        "trigger_scale": forms.ChoiceField(
            label=_("Scale"), choices=lambda: words(TriggerScale, _("not graded")), widget=forms.RadioSelect,
            required=False,
        ),
        "trigger_grade": forms.ChoiceField(label=_("Grade"), choices=[("", "–"), *grades], required=False),
    }  # fmt: skip


def _grip_fields(_digit: Digit | None) -> Fields:
    texts = {"grip": _("Trial %(place)d, kg"), "grip_other": _("Other hand: trial %(place)d, kg")}
    return {
        f"{name}_{place}": NumberField(text % {"place": place})
        for name, text in texts.items()
        for place in range(1, MOST_TRIALS + 1)
    }


def _dash_fields(_digit: Digit | None) -> Fields:
    return {
        f"dash_{place}": NumberField(_("Answer %(place)d") % {"place": place}, whole=True)
        for place in range(1, ITEMS + 1)
    }


_FIELDS: Final[Mapping[MeasureKind, Callable[[Digit | None], Fields]]] = {
    MeasureKind.INFECTION: _infection_fields, MeasureKind.PAIN: _pain_fields, MeasureKind.SWELLING: _swelling_fields,
    MeasureKind.MOTION: _motion_fields, MeasureKind.TRIGGER: _trigger_fields, MeasureKind.GRIP: _grip_fields,
    MeasureKind.QUICKDASH: _dash_fields,
}  # fmt: skip


def _infection(said: Cleaned) -> Infection | None:
    treated = (said["antibiotic"] or "", said["antibiotic_from"], said["antibiotic_until"])
    if said["infection"]:
        return Infection(InfectionKind(said["infection"]), *treated)
    if any(treated):
        raise Refusal("infection-missing", "Say which infection the antibiotic is for.", field="infection")
    return None


def _pain(said: Cleaned) -> Pain | None:
    return None if said["pain"] is None else Pain(said["pain"])


def _swelling(said: Cleaned) -> Swelling | None:
    values = said["swelling_cm"], said["swelling_other_cm"]
    return None if values == (None, None) else Swelling(*values)


def _motion(said: Cleaned) -> Motion | None:
    own, other = _reaches(said, ""), _reaches(said, "other_")
    return Motion(own, other) if own or other else None


def _reaches(said: Cleaned, whose: str) -> dict[Joint, Reach]:
    """The joints of which anything was typed."""
    typed = {joint: (said.get(f"{whose}{joint}_flexion"), said.get(f"{whose}{joint}_deficit")) for joint in Joint}
    return {joint: Reach(*angles) for joint, angles in typed.items() if angles != (None, None)}


def _trigger(said: Cleaned) -> Trigger | None:
    scale, grade = said["trigger_scale"], said["trigger_grade"]
    if grade and not scale:
        raise Refusal("scale-missing", "Say on which scale: the two do not share their numbers.", field="trigger_scale")
    if scale and not grade:
        raise Refusal("grade-missing", "Choose the grade, or say that it was not graded.", field="trigger_grade")
    return Trigger(TriggerScale(scale), grade) if grade else None


def _grip(said: Cleaned) -> Grip | None:
    own, other = (
        tuple(trial for place in range(1, MOST_TRIALS + 1) if (trial := said[f"{name}_{place}"]) is not None)
        for name in ("grip", "grip_other")
    )
    return Grip(own, other) if own or other else None


def _dash(said: Cleaned) -> QuickDash | None:
    answers = tuple(said[f"dash_{place}"] for place in range(1, ITEMS + 1))
    return QuickDash(answers) if any(answer is not None for answer in answers) else None


_BODIES: Final[Mapping[MeasureKind, Callable[[Cleaned], Body | None]]] = {
    MeasureKind.INFECTION: _infection, MeasureKind.PAIN: _pain, MeasureKind.SWELLING: _swelling,
    MeasureKind.MOTION: _motion, MeasureKind.TRIGGER: _trigger, MeasureKind.GRIP: _grip, MeasureKind.QUICKDASH: _dash,
}  # fmt: skip


def _motion_values(body: Motion) -> dict[str, Any]:
    sides = (("", body.joints), ("other_", body.other))
    angles = [(f"{whose}{joint}", reach) for whose, joints in sides for joint, reach in joints.items()]
    return {f"{name}_{part}": getattr(reach, part) for name, reach in angles for part in Reach._fields}


def _grip_values(body: Grip) -> dict[str, Any]:
    sides = (("grip", body.trials), ("grip_other", body.other))
    return {f"{name}_{place}": trial for name, trials in sides for place, trial in enumerate(trials, 1)}


_VALUES: Final[Mapping[type, Callable[[Any], dict[str, Any]]]] = {
    Infection: lambda body: {
        "infection": body.kind, "antibiotic": body.antibiotic, "antibiotic_from": body.from_on,
        "antibiotic_until": body.until_on,
    },
    Pain: lambda body: {"pain": body.score},
    Swelling: lambda body: {"swelling_cm": body.cm, "swelling_other_cm": body.other_cm},
    Motion: _motion_values,
    Trigger: lambda body: {"trigger_scale": body.scale, "trigger_grade": body.grade},
    Grip: _grip_values,
    QuickDash: lambda body: {f"dash_{place}": answer for place, answer in enumerate(body.answers, 1)},
}  # fmt: skip
