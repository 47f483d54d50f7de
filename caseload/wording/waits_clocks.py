"""What each clock of the waits counts, in words: when it begins and stops, its target, how a period is counted."""

from collections.abc import Mapping
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from caseload.waits.clocks import Targets
from caseload.waits.terms import FEWEST, Clock
from caseload.wording.dates import say_days

RECEIVED: Final = lazy("On the day on which the referral was received.")
SURGERY: Final = lazy("On the day of surgery.")
OUT: Final = lazy("On the day on which the stitches were recorded as fully out.")
BEGINS: Final[Mapping[str, str | Promise]] = {
    Clock.FIRST_VISIT: RECEIVED,
    Clock.FIRST_VISIT_RESTARTED: lazy(
        "On the day on which the referral was received; where a first visit was missed, on the day on which another "
        "was booked after it. What was missed and booked again is that of the period's last day, for the period before "
        "it and for each week or month too."
    ),
    Clock.OFFERED: RECEIVED,
    Clock.STITCHES_OUT: SURGERY,
    Clock.SLIPPAGE: lazy("On the target day for taking the stitches out, or on the day they came out before it."),
    Clock.WOUND_CLOSED: SURGERY,
}
STOPS: Final[Mapping[str, str | Promise]] = {
    Clock.FIRST_VISIT: lazy(
        "On the day of the first attended visit with a therapist. Neither a cancellation nor a missed visit begins it "
        "anew."
    ),
    Clock.FIRST_VISIT_RESTARTED: lazy(
        "On the day of the first attended visit with a therapist. A first visit that was missed and not booked again "
        "ends the wait: did not attend."
    ),
    Clock.OFFERED: lazy(
        "On the day on which an appointment was booked for the first time, or on which the patient came without one."
    ),
    Clock.STITCHES_OUT: OUT,
    Clock.SLIPPAGE: OUT,
    Clock.WOUND_CLOSED: lazy(
        "On the day on which the wound was recorded as closed. A wound that opens again begins a wait of its own."
    ),
}


def say_clock(clock: Clock, targets: Targets) -> list[tuple[str, str]]:
    """When it begins and stops, and its target, each with its heading."""
    return [
        (_("Begins"), str(BEGINS[clock])),
        (_("Stops"), str(STOPS[clock])),
        (_("Target"), say_target(clock, targets)),
    ]


def say_target(clock: Clock, targets: Targets) -> str:
    """`Within 14 days, urgent within 7 days.`"""
    if clock in (Clock.STITCHES_OUT, Clock.SLIPPAGE):
        return _("The window of the rules: on its latest day or before it.")
    if clock in (Clock.FIRST_VISIT, Clock.FIRST_VISIT_RESTARTED):
        return _first_visit(targets.first_visit, targets.first_visit_urgent)
    days = targets.offered if clock is Clock.OFFERED else targets.wound_closed
    return _("None.") if days is None else _("Within %(days)s.") % {"days": say_days(days)}


def _first_visit(days: int | None, urgent: int | None) -> str:
    if days is None:
        return _("None.") if urgent is None else _("Urgent within %(days)s, routine none.") % {"days": say_days(urgent)}
    if urgent is None:
        return _("Within %(days)s, urgent none.") % {"days": say_days(days)}
    return _("Within %(days)s, urgent within %(urgent)s.") % {"days": say_days(days), "urgent": say_days(urgent)}


def say_counting() -> list[tuple[str, str]]:
    """How a period is counted, whatever the clock, each rule with its heading."""
    return [
        (
            _("The period"),
            _(
                "Everybody who waited on a day of it. Who began before it is watched from its first day on, with the "
                "days waited already; who came from elsewhere, from the day of arrival. Who still waits at its end "
                "counts as still waiting, not as gone."
            ),
        ),
        (
            _("Ended otherwise"),
            _("What was waited for can no longer happen, as with somebody who declined, was discharged or moved away."),
        ),
        (_("Within target"), _("On the last day of the target or before it.")),
        (_("Likely"), _("Limits of 95 %: such limits hold the true figure 19 times in 20.")),
        (
            _("Too few"),
            _("Fewer than %(fewest)d waits get their numbers and no curve; small groups are not shown by themselves.")
            % {"fewest": FEWEST},
        ),
    ]


METHODS: Final[Mapping[str, str | Promise]] = {
    "curve": lazy("The curve"),
    "centile": lazy("Half, and 92 in 100"),
    "restricted_mean": lazy("The average"),
    "incidence": lazy("How waits ended"),
    "compared": lazy("Differences"),
    "completed": lazy("Completed waits alone"),
    "share": lazy("Limits of a share"),
    "trend": lazy("Within target over time"),
    "flow": lazy("Seen over time"),
    "funnel": lazy("Limits of the funnel"),
}


def say_methods(methods: Mapping[str, str]) -> list[tuple[str, str]]:
    """Which method each kind of figure is worked out with."""
    return [(str(METHODS.get(name, name)), method) for name, method in methods.items()]
