"""What must hold before an appointment is made or moved; each refusal says what would be right."""

from collections.abc import Sequence
from datetime import date

from caseload.actions.act import By
from caseload.booking.clock import local_of
from caseload.booking.needs import minutes_for
from caseload.booking.slots import SLOT, clock
from caseload.errors import Refusal
from caseload.models import FollowUp, Session, State
from caseload.reads.calendars import calendar_of
from caseload.timetable.terms import FollowUpKind, Way
from caseload.wording import label, say_date


def check_purposes(rows: Sequence[FollowUp]) -> None:
    """Follow-ups of one patient at one site that are due and need a visit."""
    if len({row.patient_id for row in rows}) != 1:
        raise Refusal("one-patient", "Choose follow-ups of one patient.", field="follow_ups")
    if any(row.state != State.DUE for row in rows):
        raise Refusal("not-due", "One of these follow-ups is not due any more. Open the page again.")
    if any(not row.minutes for row in rows):
        raise Refusal("no-visit", "One of these needs no visit, so nothing can be booked for it.", field="follow_ups")
    if len({row.episode.site_id for row in rows}) != 1:
        raise Refusal("one-site", "These episodes are looked after at different sites. Book them one by one.",
                      field="follow_ups")  # fmt: skip


def check_place(rows: Sequence[FollowUp], session: Session, way: Way, *, by: By) -> None:
    """The session is to come, on a day known to be open, at the patient's site, and takes this."""
    check_day(session, by.today)
    elsewhere = next((row.episode.site for row in rows if row.episode.site_id != session.site_id), None)
    if elsewhere:
        raise Refusal("other-site", f"This episode is looked after at {elsewhere}. Change the site of the "
                      "episode first, so that its dates follow that calendar.", field="slot")  # fmt: skip
    if way not in session.by_way:
        raise Refusal("way-not-taken", f"This session takes no visits {label(way)}.", field="way")
    if way is not Way.IN_PERSON and any(row.in_person for row in rows):
        raise Refusal("needs-in-person", "A wound cannot be looked at, nor a stitch taken out, from afar: book this "
                      "in person.", field="way")  # fmt: skip
    for row in rows:
        if session.takes and row.kind not in session.takes:
            raise Refusal("kind-not-taken", f"This session does not take: {label(FollowUpKind(row.kind))}.",
                          field="slot")  # fmt: skip


def check_day(session: Session, today: date) -> None:
    if session.on < today:
        raise Refusal("day-past", "This day is past. Record what was found instead.", field="slot")
    calendar, site = calendar_of(session.site), session.site
    if session.on > calendar.covered_until:
        raise Refusal("beyond-holidays", f"The holiday list of {site} ends on {say_date(calendar.covered_until)}. "
                      "Have it extended before booking later days.", field="slot")  # fmt: skip
    if not calendar.is_open(session.on):
        raise Refusal("day-closed", f"{site} is closed on that day. Choose another.", field="slot")


def check_start(session: Session, start: int, *, by: By) -> None:
    """The first slot is not over yet, by the clock of the site."""
    today, minute = local_of(by.at, session.site.zone)
    if session.on == today and start + SLOT <= minute:
        raise Refusal("time-past", f"{clock(start)} is past. Choose a later time, or record a visit without an "
                      "appointment.", field="slot")  # fmt: skip


def check_not_early(rows: Sequence[FollowUp], on: date, approved_by: str, approved_why: str) -> None:
    """Before the window the wound is held by stitches alone: a named clinician says that it may be, and why."""
    early = [row for row in rows if on < row.earliest_on and not row.provisional]
    if early and not approved_by.strip():
        raise Refusal("too-early", f"The window opens on {say_date(max(row.earliest_on for row in early))}. An earlier "
                      "day needs the name of the clinician who approved it.", field="approved_by")  # fmt: skip
    if early and not approved_why.strip():
        raise Refusal("early-why", "Give the reason for the earlier day as the clinician gave it.",
                      field="approved_why")  # fmt: skip


def length_of(rows: Sequence[FollowUp], *, interpreter: bool) -> int:
    """Minutes of one visit for all of them."""
    return minutes_for((row.minutes for row in rows), interpreter)
