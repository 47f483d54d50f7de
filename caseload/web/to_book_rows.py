"""The booking list as a table: its columns, its rows as joined strings, its file."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from html import escape
from typing import Any

from django.utils import timezone

from caseload.booking.slots import clock
from caseload.models import Appointment, Contact, Reached, WorkedOn
from caseload.reads.to_book import Row
from caseload.reads.to_book_details import Detail, Ended
from caseload.timetable.terms import FollowUpKind, Outcome
from caseload.web import marks
from caseload.web.paging import with_changes
from caseload.web.rows import Teller, full_name
from caseload.web.tables import ListTable, PatientColumns, exported, shown
from caseload.wording import label, say_date
from caseload.wording.booking import say_fault
from caseload.wording.dates import say_days

NEARLY_LATE = 2
"""So many usable days or fewer are nearly late."""


@dataclass(frozen=True, slots=True)
class Marked:
    """What the rows of a page are marked with: which is chosen, who has which open, what they tell beside."""

    asked: Mapping[str, str]
    reader: int
    chosen: str = ""
    details: Mapping[int, Detail] = field(default_factory=dict)
    open_rows: Mapping[int, WorkedOn] = field(default_factory=dict)

    def others(self, patient: int) -> str:
        """The name of a colleague who has this patient's row open."""
        row = self.open_rows.get(patient)
        return row.by.name if row and row.by_id != self.reader else ""


class ToBookTable(ListTable):
    name = "to-book"
    caption = "Follow-ups to be booked"

    patient = shown("Patient")
    what = shown("Visit")
    window = shown("Window")
    notes = shown("Why it is here")


class ToBookExport(ToBookTable, PatientColumns):
    kind = exported("Visit")
    earliest_on = exported("Earliest")
    latest_on = exported("Latest")
    usable = exported("Usable days left")
    state = exported("State", "usable")
    why = exported("Why it is here", "id")
    site = exported("Site", "site_id")
    therapist_name = exported("Therapist", "therapist_id")

    details: Mapping[int, Detail] = {}

    def value_kind(self, record: Row) -> str:
        return label(FollowUpKind(record.kind))

    def value_state(self, record: Row) -> str:
        return urgency(record, self.today)[1]

    def value_why(self, record: Row) -> str:
        return " ".join(reasons(self.details.get(record.id, Detail())))


def to_book_row(row: Row, marked: Marked, tell: Teller) -> str:
    chosen = ' aria-current="true"' if row.name == marked.chosen else ""
    href = escape(with_changes(marked.asked, row=row.name, page=None))
    detail = marked.details.get(row.id, Detail())
    shape, said = urgency(row, tell.today)
    maybe = ", provisional" if row.provisional else ""
    first, last = (f'<span class="nowrap">{tell.say.date(on)}' for on in (row.earliest_on, row.latest_on))
    window = f"{first} to</span> {last}</span>"
    return (
        f'<tr{chosen}><th scope="row"><a class="who-is" href="{href}"{chosen}>{full_name(row.family, row.given)}</a>'
        f"<small>{tell.born(row.born_on)}</small><small>{escape(row.phone) or 'no telephone number'}</small></th>"
        f"<td>{tell.say.label(FollowUpKind(row.kind))}"
        f"<small>{tell.hand(row.side, row.digit)}</small>"
        f'<small class="nowrap">day {tell.number(row.surgery_on)} · {tell.sites.get(row.site_id, "")}</small></td>'
        f"<td>{marks.shape(shape)}{said}<small>{window}{maybe}</small></td>"
        f'<td class="span">{_notes(row, detail, marked)}</td></tr>'
    )


def urgency(row: Row, today: Any) -> tuple[str, str]:
    """How pressing it is, as shape and words."""
    late = row.days_late(today)
    if late:
        return "tri", f"{say_days(late)} late"
    if not row.usable:
        return "hole", "no session in the window"
    return ("half" if row.usable <= NEARLY_LATE else "disc"), f"{_usable(row.usable)} left"


def _usable(count: int) -> str:
    return "1 usable day" if count == 1 else f"{count} usable days"


def _notes(row: Row, detail: Detail, marked: Marked) -> str:
    other = marked.others(row.patient_id)
    said = [f'<span class="tag">{marks.shape("box")}{escape(other)} has this open</span>'] if other else []
    said += [f"<div>{marks.whole(reason)}</div>" for reason in reasons(detail)]
    said += [f"<small>{escape(say_call(call))}</small>" for call in detail.calls]
    return "".join(said) or '<span class="soft">not booked yet</span>'


def reasons(detail: Detail) -> list[str]:
    """Why a follow-up is on the list beside not having been booked: a faulty booking, or one that fell away."""
    said = [f"Booked {say_place(detail.appointment)}: move it."] if detail.appointment else []
    said += [say_fault(fault) for fault in detail.faults]
    return said + ([say_ended(detail.ended)] if detail.ended else [])


def say_place(appointment: Appointment) -> str:
    time = f", {clock(appointment.start_minute)}" if appointment.start_minute is not None else ""
    return f"{say_date(appointment.on)}{time}"


def say_ended(ended: Sequence[Ended]) -> str:
    """The last one that fell away, and how many there were.

    A day beside “cancelled” would read as the day of the call.
    """
    last = max(ended, key=lambda each: (each.ended_on or each.on, each.on))
    times = {1: "", 2: ", second time"}.get(len(ended), f", {len(ended)} times")
    why = f" ({last.why})" if last.why else ""
    outcome, on = label(last.outcome).capitalize(), say_date(last.on)
    if last.outcome == Outcome.DID_NOT_ATTEND:
        return f"{outcome} {on}{times}{why}."
    return f"{outcome}{times}: the appointment of {on}{why}."


def say_call(call: Contact) -> str:
    """`no answer 10:42`."""
    return f"{Reached(call.reached).label} {timezone.localtime(call.at):%H:%M}"
