"""The page a therapist begins the day on, and what is recorded from it with one press."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from caseload.access import Act
from caseload.actions import appointments
from caseload.actions.act import By
from caseload.errors import Refusal
from caseload.models import Appointment
from caseload.reads.awaiting import awaiting
from caseload.reads.away import away_on
from caseload.reads.names import Names, names
from caseload.reads.today import Part, day_of
from caseload.reads.undoable import undoable
from caseload.timetable.terms import Outcome, Owner
from caseload.web.clock import by_of
from caseload.web.day_rows import section_rows
from caseload.web.exports import as_file, is_export
from caseload.web.forms.day import DayForm
from caseload.web.going_back import back_of
from caseload.web.rows import Teller
from caseload.web.values import DAY, day_values
from caseload.web.views.answering import allow, press
from caseload.web.visit_rows import ARRIVED, OUTCOMES, Presses

LONGEST_VERSION = 10


@require_http_methods(["GET", "HEAD", "POST"])
def show(request: HttpRequest) -> HttpResponse:
    by = by_of(request)
    known = names() if Owner.LEAD in by.roles else Names((), ())
    form = DayForm(request.GET.dict(), names=known, today=by.today)
    therapist = form.therapist() or by.person
    day = day_of(therapist, by.today, on=form.day, at=by.at, absent=away_on(by.today), reader=by)
    if is_export(request):
        return as_file(request, "today", DAY, day_values(day))
    tell = Teller(by.today, absent=day.absent)
    context = {
        "day": day,
        "form": form,
        "whose": "" if therapist == by.person else therapist.name,
        "is_today": day.on == by.today,
        "sections": section_rows(day, tell, Presses(request, day.on, by.today)),
        "due": any(section.entries or section.sitting for section in day.sections),
        "late": day.count(Part.LATE),
        "awaiting": awaiting({therapist.pk, *day.covered}, by.today) if day.on == by.today else (),
        "away": [day.absent[id] for id in day.covered],
        "steps": [step for step in undoable(by.person, by.at) if step.by == by.person.name],
        "back": request.get_full_path(),
    }
    return render(request, "today/page.html", context)


@require_POST
def record(request: HttpRequest, code: str) -> HttpResponse:
    """Arrived, attended or did not attend, as the button that was pressed says."""
    did = request.POST.get("did", "")
    by = allow(request, Act.APPOINTMENT_ARRIVE if did == ARRIVED else Act.APPOINTMENT_END)
    appointment = get_object_or_404(Appointment, code=code)
    return press(
        request, by, lambda by: _record(appointment, did, _version(request), by),
        to=back_of(request, reverse("today")), saved="Recorded.",
    )  # fmt: skip


def _record(appointment: Appointment, did: str, version: int | None, by: By) -> Appointment:
    if did == ARRIVED:
        return appointments.arrive(appointment, by=by, version=version)
    if did not in OUTCOMES:
        raise Refusal("no-outcome", "Say whether the patient arrived, attended or did not attend.")
    return appointments.end(appointment, by=by, outcome=Outcome(did), version=version)


def _version(request: HttpRequest) -> int | None:
    """The version that the row showed."""
    said = request.POST.get("version", "")
    return int(said) if said.isdecimal() and len(said) < LONGEST_VERSION else None
