"""Changes of rules in words."""

from collections.abc import Mapping
from datetime import date
from enum import StrEnum
from typing import Final, TypeGuard

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy
from django.utils.translation import ngettext

from caseload.timetable.terms import Anchor, Lock
from caseload.timetable.versions import Said
from caseload.wording.dates import say_date
from caseload.wording.labels import label

COUNTS: Final[Mapping[str, str | Promise]] = {
    "safety_alert_day": lazy("Safety alert from day"), "missing_fact_day": lazy("Unknown stitches overdue from day"),
    "earliest": lazy("Earliest day"), "target": lazy("Target day"), "latest": lazy("Latest day"),
    "minutes": lazy("Minutes of the visit"), "from": lazy("From day"), "aim": lazy("Best from day"),
    "until": lazy("Until day"), "anchor": lazy("Days after"), "in_person": lazy("Only in person"),
    "gates": lazy("Waits for"),
}  # fmt: skip
MEANINGS: Final[Mapping[str, str | Promise]] = {
    "earliest": lazy("Calendar days from what the rule counts from; no visit is proposed before."),
    "target": lazy("Calendar days; the open day nearest to it is proposed."),
    "latest": lazy("Calendar days; after it the follow-up is overdue."),
    "minutes": lazy("Length of the appointment; 0 where no visit is needed."),
    "from": lazy("Calendar days; not before, and not while a finding that it waits for is missing."),
    "aim": lazy("Calendar days; when it is best begun. May be empty."),
    "until": lazy("Calendar days; the last day of it. May be empty: without end."),
    "safety_alert_day": lazy("Calendar days after surgery without stitches out or wound closed on record."),
    "missing_fact_day": lazy("Calendar days after an episode is entered, until a fact that is missing is overdue."),
}
"""What each number is counted in, and what it does."""
GATE_WORDS: Final[Mapping[StrEnum, str | Promise]] = {
    Lock.WOUND_CLOSED: lazy("wound recorded as closed"), Lock.STITCHES_OUT: lazy("stitches recorded as out"),
}  # fmt: skip


def say_count(name: str) -> str:
    """What a number of a rule counts; a further term names what it counts from."""
    before, _comma, anchor = name.partition(", ")
    if anchor:
        return _("Not before day, after %(anchor)s") % {"anchor": label(Anchor(anchor))}
    return str(COUNTS[before])


def meanings() -> list[tuple[str, str]]:
    """Each number of a rule with what it is counted in and does."""
    return [(str(COUNTS[name]), str(said)) for name, said in MEANINGS.items()]


def say_counted(looked_at: int, moved: int, *, fits: bool) -> str:
    counts = {"of": looked_at, "moved": moved}
    said = _("%(of)d open or planned episodes looked at, %(moved)d of them would move.") % counts
    return said if fits else said + " " + _("The change was edited meanwhile, so this is not kept: count again.")


def say_moved(moved: int, to: str) -> str:
    said = ngettext("%(moved)d episode was moved to %(to)s.", "%(moved)d episodes were moved to %(to)s.", moved)
    return said % {"moved": moved, "to": to}


def say_left(moved: int) -> str:
    said = ngettext("%(moved)d episode was moved before that", "%(moved)d episodes were moved before that", moved)
    return said % {"moved": moved} + "; " + _("the others keep their version until they are moved.")


def say_surgeon(name: str, how: str, on: date) -> str:
    """A surgeon's signature that was given elsewhere."""
    said = {"name": name, "how": how, "day": say_date(on)}
    return _("%(name)s, surgeon (%(how)s, %(day)s)") % said


def say_days(days: int) -> str:
    """How far a target moves: “3 days later”, “1 day earlier”, “target as it is, window changed”."""
    if days == 0:
        return _("target as it is, window changed")
    many = ngettext("%(count)d day", "%(count)d days", abs(days)) % {"count": abs(days)}
    return (_("%(days)s later") if days > 0 else _("%(days)s earlier")) % {"days": many}


def say_of_rule(said: Said, there: bool) -> str:
    """What a rule says; a dash where the rule is not there, “none” where it says nothing."""
    if not there:
        return "–"
    if isinstance(said, tuple):
        return ", ".join(str(GATE_WORDS[each]) for each in said) or _("none")
    if isinstance(said, bool):
        return _("yes") if said else _("no")
    return _("none") if said is None else label(said) if isinstance(said, StrEnum) else str(said)


def say_difference(was: Said, now: Said, before: bool, after: bool) -> str:
    """What differs as a word, and a number where it is one: “▲ 3 more”, “▼ 2 fewer”, “new rule”."""
    if not before or not after:
        return _("new rule") if after else _("rule taken out")
    if was is None or now is None:
        return _("now set") if was is None else _("no longer set")
    if not _is_count(was) or not _is_count(now):
        return _("changed")
    return _("▲ %(count)d more") % {"count": now - was} if now > was else _("▼ %(count)d fewer") % {"count": was - now}


def _is_count(said: Said) -> TypeGuard[int]:
    return isinstance(said, int) and not isinstance(said, bool)
