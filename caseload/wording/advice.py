"""Why an episode needs somebody, and what to do about it: two sentences for each headline."""

from collections.abc import Callable
from datetime import date
from typing import Final, NamedTuple

from caseload.timetable.terms import FollowUpKind, Headline
from caseload.wording.speech import Speech


class Matter(NamedTuple):
    """What a headline is about. The window is that of the follow-up it names, if it names one.

    `missing` are the names of facts, `unsettled` what a safety alert waits for; both in words.
    """

    headline: Headline
    today: date
    due_on: date | None = None
    surgery_on: date | None = None
    kind: FollowUpKind | None = None
    earliest_on: date | None = None
    latest_on: date | None = None
    proposed_on: date | None = None
    booked_on: date | None = None
    missing: tuple[str, ...] = ()
    unsettled: tuple[str, ...] = ()


class Advice(NamedTuple):
    why: str
    remedy: str


def advise(matter: Matter, say: Speech) -> Advice:
    """Why the headline stands, and what to do."""
    return ADVICE[matter.headline](matter, say)


def _what(matter: Matter, say: Speech) -> str:
    return say.label(matter.kind).lower() if matter.kind else say.text("a follow-up")


def _upper(text: str) -> str:
    return text[:1].upper() + text[1:]


def _red_flag(matter: Matter, say: Speech) -> Advice:
    _ = say.text
    why = _("A red flag was recorded and is not closed.")
    if matter.due_on:
        why = _("A red flag was recorded on %(on)s and is not closed.") % {"on": say.date(matter.due_on)}
    return Advice(why, _("Escalate it now if nobody has, then record to whom and what came of it."))


def _safety_alert(matter: Matter, say: Speech) -> Advice:
    _ = say.text
    why = _(" and ").join(matter.unsettled) or _("stitches or wound are not settled")
    if matter.surgery_on:
        why = _("day %(day)d, and %(why)s") % {"day": (matter.today - matter.surgery_on).days, "why": why}
    return Advice(f"{_upper(why)}.", _("See or ring the patient today, and record what is found."))


def _no_next_step(matter: Matter, say: Speech) -> Advice:
    _ = say.text
    return Advice(_("Nothing more is due, and the episode is still open."), _("Set a review, or close the episode."))


def _missing_fact(matter: Matter, say: Speech) -> Advice:
    _ = say.text
    why = _("Not known: %(facts)s.") % {"facts": ", ".join(matter.missing)}
    return Advice(why, _("Ask the operating team and enter it: no date can be relied on before that."))


def _no_outcome(matter: Matter, say: Speech) -> Advice:
    _ = say.text
    said = {"what": _upper(_what(matter, say)), "on": say.date(matter.due_on) if matter.due_on else ""}
    why = _("%(what)s was booked for %(on)s; no outcome is recorded.") % said
    return Advice(why, _("Record it: attended, did not attend, or cancelled."))


def _not_rebooked(matter: Matter, say: Speech) -> Advice:
    _ = say.text
    said = {"what": _upper(_what(matter, say)), "on": say.date(matter.due_on) if matter.due_on else ""}
    return Advice(_("%(what)s was missed or cancelled, and has no new day.") % said, _ring(matter, say))


def _visit_unbooked(matter: Matter, say: Speech) -> Advice:
    _ = say.text
    if matter.latest_on is None:
        return Advice(_("A visit is due and has no day."), _ring(matter, say))
    said = {"what": _upper(_what(matter, say)), "latest": say.date(matter.latest_on)}
    late = (matter.today - matter.latest_on).days
    if late <= 0:
        why = _("%(what)s must be by %(latest)s, at most two usable days are left, nothing is booked.") % said
        return Advice(why, _ring(matter, say))
    said |= {"what": _what(matter, say), "late": say.days(late)}
    why = _("The last day for %(what)s was %(latest)s, %(late)s ago; nothing is booked.") % said
    return Advice(why, _ring(matter, say))


def _ring(matter: Matter, say: Speech) -> str:
    _ = say.text
    latest, proposed, today = matter.latest_on, matter.proposed_on, matter.today
    if latest is None or latest < today:
        return _("Ring today, and book the first day there is.")
    if proposed is None or not today <= proposed < latest:
        return _("Ring today, and book a day up to %(latest)s.") % {"latest": say.date(latest)}
    days = {"proposed": say.date(proposed), "latest": say.date(latest)}
    return _("Ring today, and book a day up to %(latest)s, as near to %(proposed)s as there is room.") % days


def _booked_outside(matter: Matter, say: Speech) -> Advice:
    _ = say.text
    remedy = _("Move it into the window, or have a clinician approve the day.")
    booked, earliest, latest = matter.booked_on, matter.earliest_on, matter.latest_on
    if booked is None or earliest is None or latest is None:
        return Advice(_("A visit is booked outside its window."), remedy)
    said = {"what": _upper(_what(matter, say)), "booked": say.date(booked)}
    if booked > latest:
        said |= {"by": say.days((booked - latest).days), "limit": say.date(latest)}
        return Advice(_("%(what)s is booked for %(booked)s: %(by)s after its last day, %(limit)s.") % said, remedy)
    said |= {"by": say.days((earliest - booked).days), "limit": say.date(earliest)}
    return Advice(_("%(what)s is booked for %(booked)s: %(by)s before its first day, %(limit)s.") % said, remedy)


def _task_late(matter: Matter, say: Speech) -> Advice:
    _ = say.text
    said = {"what": _upper(_what(matter, say)), "latest": say.date(matter.latest_on) if matter.latest_on else ""}
    why = _("%(what)s was to be done by %(latest)s.") % said
    return Advice(why, _("Close the episode, refer on, or set a further review."))


def _untold(matter: Matter, say: Speech) -> Advice:
    _ = say.text
    remedy = _("Ring, and record that they were told or that a message was left.")
    if matter.booked_on is None:
        return Advice(_("An appointment was moved or cancelled, and the patient has not been told."), remedy)
    said = {"what": _upper(_what(matter, say)), "on": say.date(matter.booked_on)}
    why = _("%(what)s is booked for %(on)s: the patient, or the interpreter they need, has not been told.") % said
    return Advice(why, remedy)


ADVICE: Final[dict[Headline, Callable[[Matter, Speech], Advice]]] = {
    Headline.RED_FLAG: _red_flag,
    Headline.SAFETY_ALERT: _safety_alert,
    Headline.NO_NEXT_STEP: _no_next_step,
    Headline.MISSING_FACT: _missing_fact,
    Headline.NO_OUTCOME: _no_outcome,
    Headline.NOT_REBOOKED: _not_rebooked,
    Headline.VISIT_UNBOOKED: _visit_unbooked,
    Headline.BOOKED_OUTSIDE: _booked_outside,
    Headline.TASK_LATE: _task_late,
    Headline.UNTOLD: _untold,
}
