"""What becomes of an appointment: arrived, ended, told, taken back."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from caseload.actions import appointments, undoing
from caseload.models import Appointment
from caseload.timetable.terms import FollowUpKind, Outcome
from caseload.web.clock import by_of
from caseload.web.forms.appointment import OutcomeForm, TellForm
from caseload.web.going_back import back_of
from caseload.web.views.answering import FORM_METHODS, Page, answer, press
from caseload.web.views.found import named, to_episode, to_patient
from caseload.wording import label
from caseload.wording.appointments import say_time
from caseload.wording.record import say_hand


@require_http_methods(FORM_METHODS)
def end(request: HttpRequest, code: str) -> HttpResponse:
    by, appointment = by_of(request), appointment_at(code)
    initial = {"version": appointment.version, "outcome": "" if appointment.on > by.today else Outcome.ATTENDED}
    form = OutcomeForm(request.POST or None, today=by.today, initial=initial)
    back, context = back_of(request, page_of(appointment)), named(appointment.patient, by)
    page = Page("Outcome of an appointment", "Save the outcome", back, about(appointment), context=context,
                now=lambda: _now(code))  # fmt: skip
    return answer(
        request, by, form, page, lambda by: appointments.end(appointment, by=by, **form.said_of()),
        to=lambda _: back, saved="The outcome is recorded.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def tell(request: HttpRequest, code: str) -> HttpResponse:
    by, appointment = by_of(request), appointment_at(code)
    initial = {"told": appointment.told, "interpreter_told": appointment.interpreter_told,
               "version": appointment.version}  # fmt: skip
    interpreter = appointment.patient.interpreter
    form = TellForm(request.POST or None, today=by.today, initial=initial, interpreter=interpreter)
    back = back_of(request, page_of(appointment))
    page = Page("Does the patient know?", "Save", back, about(appointment), context=named(appointment.patient, by),
                now=lambda: _now(code))  # fmt: skip
    return answer(
        request, by, form, page, lambda by: appointments.tell(appointment, by=by, **form.said_of()),
        to=lambda _: back, saved="Recorded.",
    )  # fmt: skip


@require_POST
def arrive(request: HttpRequest, code: str) -> HttpResponse:
    by, appointment = by_of(request), appointment_at(code)
    back = back_of(request, page_of(appointment))
    return press(
        request,
        by,
        lambda by: appointments.arrive(appointment, by=by),
        to=back,
        saved=f"{appointment.patient} has come.",
    )


@require_POST
def undo(request: HttpRequest, code: str) -> HttpResponse:
    """Take the last act back. One that is gone was a booking taken back already: a double click lands there too."""
    by = by_of(request)
    if "back" in request.POST and not Appointment.objects.filter(code=code).exists():
        messages.warning(request, "This booking was taken back already.")
        return redirect(back_of(request, reverse("home")))
    appointment = appointment_at(code)
    back = back_of(request, page_of(appointment))
    return press(
        request, by, lambda by: undoing.undo(appointment, by=by), to=back, saved=f"Taken back: {appointment.patient}."
    )


def appointment_at(code: str) -> Appointment:
    rows = Appointment.objects.select_related("patient", "site").prefetch_related("purposes__follow_up__episode")
    return get_object_or_404(rows, code=code)


def page_of(appointment: Appointment) -> str:
    """The page of the first episode that the appointment serves."""
    served = [purpose.follow_up.episode for purpose in appointment.purposes.all()]
    return to_episode(served[0], "appointments") if served else to_patient(appointment.patient)


def about(appointment: Appointment) -> str:
    """The time, the site, and what it is for."""
    served = (purpose.follow_up for purpose in appointment.purposes.all())
    what = ", ".join(f"{label(FollowUpKind(row.kind))} ({say_hand(row.episode)})" for row in served)
    return f"{say_time(appointment)}, {appointment.site}: {what}."


def _now(code: str) -> tuple[int, dict[str, Any]]:
    appointment = Appointment.objects.get(code=code)
    return appointment.version, {
        "outcome": appointment.outcome, "why": appointment.ended_why, "told": appointment.told,
        "interpreter_told": appointment.interpreter_told,
    }  # fmt: skip
