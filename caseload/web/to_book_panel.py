"""What stands beside the booking list: the open row, what the visit can serve, the best places and the form."""

from dataclasses import dataclass
from functools import partial
from typing import Any

from django.http import QueryDict
from django.urls import reverse

from caseload.models import FollowUp, Patient, Told
from caseload.reads.patient import Flag, namesakes, open_flags
from caseload.reads.to_book import Row
from caseload.reads.to_book_details import Detail
from caseload.reads.visit_to_book import Places, VisitToBook, joined_or_alone, places_for, visit_to_book
from caseload.timetable.terms import Way
from caseload.web.desk import Desk
from caseload.web.forms.places import name_of
from caseload.web.forms.to_book import VisitToBookForm
from caseload.web.paging import with_changes
from caseload.web.to_book_rows import reasons, say_call, urgency

MOST = 6


@dataclass(frozen=True, slots=True)
class Panel:
    """`other` is a colleague who has the row open; `query` asks for the list as it was asked for; `alone` says that
    something else fits into the visit, but only without it there is a place in time."""

    row: Row
    visit: VisitToBook
    form: VisitToBookForm
    places: Places
    shape: str
    urgency: str
    reasons: list[str]
    calls: list[str]
    other: str
    query: str
    previous_href: str
    next_href: str
    flags: list[Flag]
    alone: bool

    @property
    def patient(self) -> Patient:
        return self.visit.about.patient

    @property
    def about(self) -> FollowUp:
        return self.visit.about

    @property
    def by_hand(self) -> str:
        """The page on which any day can be chosen."""
        if self.visit.appointment:
            return reverse("appointment-move", args=[self.visit.appointment.code])
        return f"{reverse('appointment-new', args=[self.about.episode.code])}?for={self.about.key}"


def form_for(visit: VisitToBook, desk: Desk, data: QueryDict | None = None, **options: Any) -> VisitToBookForm:
    same_name = bool(namesakes(visit.about.patient))
    return VisitToBookForm(data, visit=visit, same_name=same_name, today=desk.by.today, **options)


def first_form(visit: VisitToBook, row: Row, desk: Desk, most: int) -> tuple[VisitToBookForm, Places, bool]:
    """The form as it is first shown, with its places: all ticked that fits and has a place in time together, in person
    or as it was booked, the patient told. Last, whether something that fits is left out, to be in time."""
    moved, after = visit.appointment, desk.beside(row, 1)
    way = Way(moved.way) if moved and not visit.in_person else Way.IN_PERSON
    fitting = visit.ticked(desk.order.steps_of)
    find = partial(places_for, at=desk.by.at, way=way, most=most)
    ticked, places = (fitting, find(fitting)) if moved else joined_or_alone(fitting, find)
    initial = {
        "row": row.name, "then": after.name if after else "", "told": Told.TOLD, "way": way,
        "moving": moved.code if moved else "", "version": moved.version if moved else None,
        "follow_ups": [name_of(each) for each in ticked],
    }  # fmt: skip
    return form_for(visit, desk, initial=initial), places, len(ticked) < len(fitting)


def panel_of(
    desk: Desk, row: Row, visit: VisitToBook | None = None, form: VisitToBookForm | None = None, most: int = MOST
) -> Panel:
    """The open row with fresh offers; `form` where one was sent and is to be shown again."""
    detail = desk.details.get(row.id, Detail())
    visit = visit or visit_to_book(row.name, detail.appointment.code if detail.appointment else "")
    assert visit, "a row of the list is a follow-up"
    alone = False
    if form is None:
        form, places, alone = first_form(visit, row, desk, most)
    else:
        places = places_for(form.chosen, at=desk.by.at, way=form.chosen_way, most=most)
    form.offer(places.offers, desk.known)
    shape, said = urgency(row, desk.by.today)
    held = desk.open_rows.get(row.patient_id)
    other = held.by.name if held and held.by_id != desk.by.person.pk else ""
    before, after = desk.beside(row, -1), desk.beside(row, 1)
    return Panel(
        row, visit, form, places, shape, said, reasons(detail), [say_call(call) for call in detail.calls], other,
        with_changes(desk.asked), _href(desk, before), _href(desk, after),
        open_flags(visit.about.patient, desk.by.today), alone,
    )  # fmt: skip


def _href(desk: Desk, row: Row | None) -> str:
    return with_changes(desk.asked, row=row.name, page=None) if row else ""
