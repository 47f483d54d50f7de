"""Changes of rules in words."""

from collections.abc import Mapping
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy
from django.utils.translation import ngettext

from caseload.timetable.terms import Anchor
from caseload.wording.labels import label

COUNTS: Final[Mapping[str, str | Promise]] = {
    "safety_alert_day": lazy("Safety alert from day"), "missing_fact_day": lazy("Unknown stitches overdue from day"),
    "earliest": lazy("Earliest day"), "target": lazy("Target day"), "latest": lazy("Latest day"),
    "minutes": lazy("Minutes of the visit"), "from": lazy("From day"), "aim": lazy("Best from day"),
    "until": lazy("Until day"),
}  # fmt: skip


def say_count(name: str) -> str:
    """What a number of a rule counts; a further term names what it counts from."""
    before, _comma, anchor = name.partition(", ")
    if anchor:
        return _("Not before day, after %(anchor)s") % {"anchor": label(Anchor(anchor))}
    return str(COUNTS[before])


def say_counted(looked_at: int, moved: int, *, fits: bool) -> str:
    said = _("%(of)d open episodes looked at, %(moved)d of them would move.") % {"of": looked_at, "moved": moved}
    return said if fits else said + " " + _("The change was edited meanwhile, so this is not kept: count again.")


def say_moved(moved: int, to: str) -> str:
    said = ngettext("%(moved)d episode was moved to %(to)s.", "%(moved)d episodes were moved to %(to)s.", moved)
    return said % {"moved": moved, "to": to}


def say_days(days: int) -> str:
    """How far a target moves: “3 days later”, “1 day earlier”, “target as it is, window changed”."""
    if days == 0:
        return _("target as it is, window changed")
    many = ngettext("%(count)d day", "%(count)d days", abs(days)) % {"count": abs(days)}
    return (_("%(days)s later") if days > 0 else _("%(days)s earlier")) % {"days": many}


def say_number(number: int | None, there: bool) -> str:
    """A number of a rule; a dash where the rule is not there, “none” where it says no day."""
    return "–" if not there else _("none") if number is None else str(number)


def say_difference(was: int | None, now: int | None, before: bool, after: bool) -> str:
    """What differs as a word and a number: “3 more”, “2 fewer”, “new rule”."""
    if not before or not after:
        return _("new rule") if after else _("rule taken out")
    if was is None or now is None:
        return _("now set") if was is None else _("no longer set")
    return _("%(count)d more") % {"count": now - was} if now > was else _("%(count)d fewer") % {"count": was - now}
