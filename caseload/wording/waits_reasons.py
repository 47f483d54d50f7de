"""Why a wait begins, stops, still runs or has its target: each reason of `waits.clocks` as a sentence."""

from collections.abc import Mapping
from datetime import date
from enum import StrEnum
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop as text

from caseload.timetable.plan import Reason
from caseload.waits.terms import End
from caseload.wording.dates import say_date, say_days
from caseload.wording.labels import label

PLAIN: Final[Mapping[str, tuple[str, str]]] = {
    "received": ("on", text("It began on %(on)s, when the referral was received.")),
    "operated": ("on", text("It began on %(on)s, the day of surgery.")),
    "opened-again": ("on", text("It began on %(on)s, when the wound was found open again after it had closed.")),
    "arrived": ("on", text("Another clinic had the patient until %(on)s: the days before count, but not as ours.")),
    "missed": ("on", text("The first visit was missed, last on %(on)s. That does not begin the wait anew.")),
    "restarted": ("on", text("Where waits are restarted after a missed visit, this one begins on %(on)s.")),
    "not-rebooked": ("", text("Nothing was booked after it.")),
    "attended": ("on", text("It stopped on %(on)s, the first attended day.")),
    "not-attended": ("", text("No visit has been attended since, so it still runs.")),
    "booked": ("on visit", text("It stopped on %(on)s, when the first appointment was booked, for %(visit)s.")),
    "not-booked": ("", text("No appointment has been booked since, so it still runs.")),
    "removed": ("on source", text("It stopped on %(on)s, when the stitches were recorded as fully out (%(source)s).")),
    "stitches-left": ("on left", text("It still runs: on %(on)s the stitches were not all out (%(left)s left).")),
    "stitches-in": ("", text("It still runs: nobody has recorded that the stitches are out.")),
    "wound-closed": ("on source", text("It stopped on %(on)s, when the wound was recorded as closed (%(source)s).")),
    "closing-held": ("on", text("It still runs: the wound looked closed on %(on)s, but stitches still held it.")),
    "not-closed": ("on state", text("It still runs: on %(on)s the wound was %(state)s.")),
    "not-looked-at": ("", text("It still runs: nobody has recorded the wound.")),
    "referral-ended": ("on how", text("It ended on %(on)s with the referral: %(how)s.")),
    "episodes-closed": ("on how", text("It ended on %(on)s, when the last episode was closed: %(how)s.")),
    "episode-closed": ("on how", text("It ended on %(on)s, when the episode was closed: %(how)s.")),
    "stopped-early": (
        "",
        text("That is dated before the beginning, so one of the two days is wrong; it counts as stopped on its first."),
    ),
    "over-before-arrival": ("", text("It was over before the patient came to us, so it is not counted.")),
    "target": ("days due", text("The target is %(days)s, so %(due)s at the latest.")),
    "window": (
        "earliest target latest",
        text(
            "The stitches come out from %(earliest)s to %(latest)s, best on %(target)s: the target is the latest day."
        ),
    ),
    "no-target": ("", text("There is no target.")),
}
"""Each text with the names of its values in order."""


def say_why(reason: Reason) -> str:
    """One reason as a sentence. Raises KeyError for a code that has no words."""
    if reason.code == "cancelled":
        days = ", ".join(_say("on", day) for day in reason.values)
        return _("Cancelled: %(days)s. A cancellation does not begin the wait anew.") % {"days": days}
    if reason.code == "booked" and len(set(reason.values)) == 1:
        return _("It stopped on %(on)s, when the patient came.") % {"on": _say("on", reason.values[0])}
    names, said = PLAIN[reason.code]
    return _(said) % {name: _say(name, value) for name, value in zip(names.split(), reason.values, strict=True)}


def _say(name: str, value: object) -> str:
    if isinstance(value, date):
        return say_date(value)
    if name == "how":
        return label(End(str(value)))
    if isinstance(value, StrEnum):
        return label(value)
    return say_days(value) if name == "days" and isinstance(value, int) else str(value)
