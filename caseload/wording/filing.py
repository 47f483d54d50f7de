"""Filed months in words: who filed them, the figures side by side, and what moved a wait."""

from collections.abc import Mapping
from datetime import date
from math import inf
from typing import Any, Final

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy
from django.utils.translation import ngettext

from caseload.models import Filing, Staff
from caseload.parsing import Priority
from caseload.timetable.terms import Suture
from caseload.waits.filed import Counted
from caseload.waits.restated import SHARES, Line, Moved, Told, Value
from caseload.waits.terms import End
from caseload.wording.dates import say_date, say_days, say_instant
from caseload.wording.labels import label

NOT_SAID: Final = "–"
MINUS: Final = "\N{MINUS SIGN}"
SMALLEST: Final = 0.1
FIGURES: Final[Mapping[Told, str | Promise]] = {
    Told.AT_START: lazy("waiting when the month began"),
    Told.BEGAN: lazy("began in it"),
    Told.SEEN: lazy("seen in it"),
    Told.ENDED_OTHERWISE: lazy("ended otherwise"),
    Told.WAITING: lazy("still waiting at its end"),
    Told.MEDIAN: lazy("half are seen by day"),
    Told.CENTILE_92: lazy("92 in 100 are seen by day"),
    Told.WITHIN: lazy("within target, of those whose target day fell in it"),
    Told.WITHIN_COMPLETED: lazy("within target, of those seen only"),
    Told.COMPLETED_MEDIAN: lazy("half of those seen only, by day"),
    Told.COMPLETED_92: lazy("92 in 100 of those seen only, by day"),
}
FIELDS: Final[Mapping[str, str | Promise]] = {
    "started_on": lazy("began"), "ended": lazy("state"), "stopped_on": lazy("ended"), "entered_on": lazy("came to us"),
    "earliest_on": lazy("window from"), "target_on": lazy("best day"), "due_on": lazy("last day within target"),
    "missed_on": lazy("first visit missed"), "restarted_on": lazy("booked anew"), "site": lazy("site"),
    "surgeon": lazy("surgeon"), "suture": lazy("stitches"), "priority": lazy("priority"),
}  # fmt: skip
TARGETS: Final[Mapping[str, str | Promise]] = {
    "first_visit": lazy("first visit"), "first_visit_urgent": lazy("first visit, urgent"),
    "offered": lazy("appointment offered"), "wound_closed": lazy("wound closed"),
}  # fmt: skip


def say_filed(filing: Filing) -> str:
    """`on Mon 2 Nov 2026, 09:20 by Lena Marsh`."""
    return _("on %(when)s by %(who)s") % {"when": say_instant(filing.filed_at), "who": filing.filed_by.name}


def say_value(figure: Told, value: Value) -> str:
    """`12`, `9.5`, `74.1 %`, `not reached`; a dash for what cannot be said."""
    if value is None:
        return NOT_SAID
    if value == inf:
        return _("not reached")
    return f"{100 * value:.1f} %" if figure in SHARES else _number(value)


def say_by(line: Line) -> str:
    """How far a figure moved: `+2`, `−1.5`, `+3.2 points`; in words where one of the two is no number."""
    if line.by is None:
        return _say_no_number(line) if line.moved else NOT_SAID
    if not line.moved:
        return "0"
    moved = _shown(line.figure, line.now) - _shown(line.figure, line.filed)
    if abs(moved) < SMALLEST / 2:
        return _("less than %(least)s") % {"least": SMALLEST}
    said = f"{abs(moved):.1f}" if line.figure in SHARES else _number(abs(moved))
    signed = f"{'+' if moved > 0 else MINUS}{said}"
    return _("%(number)s points") % {"number": signed} if line.figure in SHARES else signed


def _shown(figure: Told, value: Value) -> float:
    """As it is shown, so that the difference is that of the two numbers beside it."""
    return round(100 * (value or 0) if figure in SHARES else value or 0, 1)


def _say_no_number(line: Line) -> str:
    if line.filed is None:
        return _("could not be said")
    if line.now is None:
        return _("cannot be said now")
    return _("reached now") if line.filed == inf else _("not reached now")


def _number(value: int | float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def say_moves(moved: Moved, names: Mapping[str, str]) -> list[str]:
    """What is different of a wait: `not known then: began Thu 1 Oct 2026, still waiting`, `state: seen → declined`."""
    if moved.was is None:
        return [_("not known then: %(how)s") % {"how": say_wait(moved.wait)}]
    if moved.now is None:
        return [_("not in the record any more: %(how)s") % {"how": say_wait(moved.wait)}]
    return [
        f"{FIELDS[field]}: {_value(field, getattr(moved.was, field), names)} → "
        f"{_value(field, getattr(moved.now, field), names)}"
        for field in moved.fields
    ]


def say_wait(wait: Counted) -> str:
    """`began Thu 1 Oct 2026, seen Fri 9 Oct 2026 (8 days)`."""
    began = _("began %(on)s") % {"on": say_date(wait.started_on)}
    state = label(End(wait.ended))
    if wait.stopped_on is None:
        return f"{began}, {state}"
    return f"{began}, {state} {say_date(wait.stopped_on)} ({say_days((wait.stopped_on - wait.started_on).days)})"


def _value(field: str, value: Any, names: Mapping[str, str]) -> str:
    if isinstance(value, date):
        return say_date(value)
    if not value:
        return NOT_SAID
    if field == "site":
        return names.get(value, value)
    words = {"ended": End, "suture": Suture, "priority": Priority}
    return label(words[field](value)) if field in words else str(value)


def say_target(days: int | None) -> str:
    return say_days(days) if days is not None else _("none")


def say_count(moved: int) -> str:
    """What was entered late since a month was filed."""
    return ngettext("%(count)d wait moved since", "%(count)d waits moved since", moved) % {"count": moved}


def say_recorded(what: str, when: str, by: Staff | None) -> str:
    """`finding recorded on Mon 9 Nov 2026, 10:12 by a therapist`: by whom as a role."""
    roles = " and ".join(sorted(map(label, by.roles))) if by else ""
    who = _("by a %(roles)s") % {"roles": roles} if by else _("by the planner")
    return _("%(what)s on %(when)s %(who)s") % {"what": what, "when": when, "who": who}
