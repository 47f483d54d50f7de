"""Booking in words: why a place is offered, what is amiss with an appointment, why there is no place."""

from collections.abc import Iterable
from typing import Final

from django.utils.translation import gettext_noop as text

from caseload.booking.good import Fault
from caseload.booking.offers import Offer
from caseload.timetable.plan import Reason
from caseload.wording.speech import Speech, speech


def say_offer(offer: Offer, say: Speech | None = None) -> str:
    """`target day, own therapist`. Raises KeyError for a reason that has no words."""
    return say_reasons(offer.reasons, say)


def say_reasons(reasons: Iterable[Reason], say: Speech | None = None) -> str:
    """The same of an offer that was stored."""
    return ", ".join(_say(reason, say or speech()) for reason in reasons)


def say_fault(fault: Fault, say: Speech | None = None) -> str:
    """One fault of an appointment as a sentence."""
    return (say or speech()).text(FAULTS[fault])


def say_none(why: Reason, say: Speech | None = None) -> str:
    """Why no place can be proposed, and what to do."""
    return (say or speech()).text(NONE[why.code])


def _say(reason: Reason, say: Speech) -> str:
    counts = [say.days(count) for count in reason.values if isinstance(count, int)]
    return say.text(OFFERED[reason.code]) % dict(zip(["days"], counts, strict=False))


OFFERED: Final = {
    "target-day": text("target day"),
    "days-after-target": text("%(days)s after the target"),
    "days-before-target": text("%(days)s before the target"),
    "days-after-latest": text("%(days)s after the last day"),
    "days-before-earliest": text("%(days)s before the first day"),
    "own-therapist": text("own therapist"),
    "other-therapist": text("another therapist"),
    "no-gap": text("leaves no gap"),
}

FAULTS: Final = {
    Fault.OUTSIDE_WINDOW: text("The day lies outside the window."),
    Fault.TOO_SHORT: text("The appointment is too short for what is to be done."),
    Fault.OTHER_SITE: text("The appointment is not at the patient's site."),
    Fault.NEEDS_IN_PERSON: text("The stitches or the wound must be seen in person."),
}

NONE: Final = {
    "all-full": text("Every session that takes this visit is full: add a session, or ring the patient."),
    "no-session-takes": text("No session at this site takes this visit: add one, or change what a session takes."),
}
