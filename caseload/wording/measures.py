"""What was measured, in one short line each, and what is asked back about a value that is not usual."""

from collections.abc import Callable, Mapping
from typing import Any, Final

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy
from django.utils.translation import ngettext

from caseload.measures import disability, grip, motion
from caseload.measures.bodies import Body, Grip, Infection, Motion, Pain, QuickDash, Reach, Swelling, Trigger
from caseload.measures.limits import Doubt
from caseload.measures.terms import InfectionKind, Joint, MeasureKind, Quantity, TriggerScale, Whole
from caseload.timetable.terms import Digit
from caseload.wording.dates import say_date
from caseload.wording.labels import label


def say_measured(body: Body, digit: Digit | None = None) -> str:
    """One line with the sums, shares and bands that follow. Where the digit is not said, its joints say it."""
    return _SAYINGS[type(body)](body, digit)


def say_grade(trigger: Trigger) -> str:
    """`III: locks, can be freed by the other hand`; the scale is said beside it."""
    return f"{trigger.grade}: {GRADES[trigger.scale][trigger.grade]}"


def say_doubt(doubt: Doubt) -> str:
    """Ask back: “130° of bending at the MCP joint lies outside 0–110°. Is that right?”"""
    usual = f"{doubt.low:g}–{doubt.high:g}" if doubt.low >= 0 else f"{_signed(doubt.low)} to {doubt.high:g}"
    said = {"what": say_unusual(doubt), "usual": usual + _unit(doubt.field)}
    return _("%(what)s lies outside %(usual)s. Is that right?") % said


def say_quantity(quantity: Quantity) -> str:
    """The heading of what is followed over time."""
    return str(QUANTITIES[quantity])


def say_value(quantity: Quantity, value: float) -> str:
    """One value of it, as `say_measured` says it."""
    if quantity is Quantity.DISABILITY:
        return f"{value:.1f}"
    return f"{value:g}" if quantity is Quantity.PAIN else _per_cent(value)


def say_reading(quantity: Quantity, whole: Whole) -> str:
    """How to read its course: its scale, and which way is better."""
    return str(WHOLES[whole] if quantity is Quantity.MOTION else READINGS[quantity])


def say_note(kind: MeasureKind) -> str:
    """What a reader should know of the numbers of a kind: their bands, and what may mean little; empty for most."""
    return str(NOTES.get(kind, ""))


QUANTITIES: Final[Mapping[Quantity, str | Promise]] = {
    Quantity.PAIN: lazy("Pain"),
    Quantity.MOTION: lazy("Total active motion"),
    Quantity.GRIP: lazy("Grip"),
    Quantity.DISABILITY: lazy("QuickDASH"),
}
READINGS: Final[Mapping[Quantity, str | Promise]] = {
    Quantity.PAIN: lazy("0 to 10, less is better"),
    Quantity.GRIP: lazy("% of the other hand, more is better"),
    Quantity.DISABILITY: lazy("0 to 100, less is better"),
}
WHOLES: Final[Mapping[Whole, str | Promise]] = {
    Whole.OTHER: lazy("% of the other hand's, more is better"),
    Whole.USUAL: lazy("% of the usual, more is better"),
    Whole.MIXED: lazy("% of the usual, or of the other hand's"),
}
NOTES: Final[Mapping[MeasureKind, str | Promise]] = {
    MeasureKind.MOTION: lazy(
        "Total active motion (TAM): excellent from 100 %, good above 75 %, fair above 50 %. Strickland: excellent from "
        "85 %, good from 70 %, fair from 50 %."
    ),
    MeasureKind.GRIP: lazy("Grip has no bands; a dominant hand is usually about a tenth stronger."),
    MeasureKind.QUICKDASH: lazy("QuickDASH: a change of fewer than about 14 points may mean little."),
}
EDGES: Final = frozenset({50, 70, 75, 85, 100})
"""Where bands of motion meet, in per cent."""
GRADES: Final[Mapping[TriggerScale, Mapping[str, str | Promise]]] = {
    TriggerScale.GREEN: {
        "I": lazy("painful or tender at the A1 pulley"),
        "II": lazy("catches"),
        "III": lazy("locks, can be freed passively"),
        "IIIA": lazy("locks, cannot be straightened actively"),
        "IIIB": lazy("locks, cannot be bent actively"),
        "IV": lazy("fixed"),
    },
    TriggerScale.QUINNELL: {
        "0": lazy("normal movement"),
        "1": lazy("uneven movement"),
        "2": lazy("locks, can be freed actively"),
        "3": lazy("locks, can be freed passively"),
        "4": lazy("fixed"),
    },
}


def _say_infection(body: Infection, _digit: Digit | None) -> str:
    said = _("%(kind)s infection") % {"kind": label(InfectionKind(body.kind))}
    if not (body.antibiotic or body.from_on or body.until_on):
        return said
    parts = [body.antibiotic or _("antibiotic")]
    if body.from_on:
        parts.append(_("from %(on)s") % {"on": say_date(body.from_on)})
    if body.until_on:
        parts.append(_("until %(on)s") % {"on": say_date(body.until_on)})
    return f"{said}, {' '.join(parts)}"


def _say_pain(body: Pain, _digit: Digit | None) -> str:
    return _("pain %(score)d of 10") % {"score": body.score}


def _say_swelling(body: Swelling, _digit: Digit | None) -> str:
    hands = [(_("figure of eight %(value)s cm"), body.cm), (_("other hand %(value)s cm"), body.other_cm)]
    return ", ".join(text % {"value": f"{value:g}"} for text, value in hands if value is not None)


def _say_motion(body: Motion, digit: Digit | None) -> str:
    digit = digit or (Digit.THUMB if Joint.IP in body.joints else Digit.MIDDLE)
    total, share = motion.total(body, digit), motion.strickland(body, digit)
    parts = [_say_total(total) if total else _say_joints(body)]
    if share:
        said = {"share": _per_cent(share.share), "band": label(share.band)}
        parts.append(_("Strickland %(share)s: %(band)s") % said)
    return "; ".join(parts)


def _say_total(total: motion.Total) -> str:
    said = {
        "degrees": total.degrees, "share": _per_cent(total.share), "of": total.of, "band": label(total.band)
    }  # fmt: skip
    if total.by_other:
        return _("TAM %(degrees)d°, %(share)s of the other hand's %(of)d°: %(band)s") % said
    return _("TAM %(degrees)d°, %(share)s of %(of)d°: %(band)s") % said


def _say_joints(body: Motion) -> str:
    """What was measured where it makes no sum."""
    joints = "; ".join(_say_reach(joint, reach) for joint, reach in body.joints.items())
    return _("%(joints)s; no TAM: not every joint measured") % {"joints": joints or _("other hand only")}


def _say_reach(joint: Joint, reach: Reach) -> str:
    parts = [(_("bends to %(angle)s°"), reach.flexion), (_("lacks %(angle)s°"), reach.deficit)]
    said = [text % {"angle": _signed(angle)} for text, angle in parts if angle is not None]
    return f"{label(joint)} {', '.join(said)}"


def _say_trigger(body: Trigger, _digit: Digit | None) -> str:
    return f"{label(body.scale)} {say_grade(body)}"


def _say_grip(body: Grip, _digit: Digit | None) -> str:
    own, other, share = grip.mean(body.trials), grip.mean(body.other), grip.share(body)
    if own is None:
        return _("other hand %(other)s kg") % {"other": f"{other:.1f}"}
    if share is not None:
        return _("grip %(own)s kg, %(share)s of the other hand") % {"own": f"{own:.1f}", "share": _per_cent(share)}
    return _("grip %(own)s kg") % {"own": f"{own:.1f}"}


def _say_dash(body: QuickDash, _digit: Digit | None) -> str:
    score = disability.score(body)
    if score is not None:
        return _("QuickDASH %(score)s") % {"score": f"{score:.1f}"}
    missing = disability.unanswered(body)
    said = ngettext("%(count)d answer missing", "%(count)d answers missing", missing) % {"count": missing}
    return _("QuickDASH: %(missing)s, no score") % {"missing": said}


_SAYINGS: Final[Mapping[type, Callable[[Any, Digit | None], str]]] = {
    Infection: _say_infection, Pain: _say_pain, Swelling: _say_swelling, Motion: _say_motion, Trigger: _say_trigger,
    Grip: _say_grip, QuickDash: _say_dash,
}  # fmt: skip


def _signed(value: float) -> str:
    return f"{value:g}".replace("-", "\u2212")


def _per_cent(share: float) -> str:
    """Whole per cent, but with a place where rounding would show an edge of a band that was not reached: 99.6, 75.4."""
    whole = round(share)
    return f"{whole}\N{NO-BREAK SPACE}%" if whole not in EDGES or share == whole else f"{share:.1f}\N{NO-BREAK SPACE}%"


def _unit(field: str) -> str:
    if field.startswith("grip"):
        return " kg"
    return " cm" if field.startswith("swelling") else "°"


def say_unusual(doubt: Doubt) -> str:
    """The value alone: “130° of bending at the MCP joint”."""
    said = {"value": _signed(doubt.value) + _unit(doubt.field)}
    if doubt.field.startswith("grip"):
        return _("A grip of %(value)s") % said
    if doubt.field.startswith("swelling"):
        return _("%(value)s round the hand") % said
    *other, joint, part = doubt.field.split("_")
    said["joint"] = label(Joint(joint))
    bends = _("%(value)s of bending at the %(joint)s joint") % said
    lacks = _("%(value)s missing to straight at the %(joint)s joint") % said
    return (bends if part == "flexion" else lacks) + (_(" of the other hand") if other else "")
