"""Booked days: noted for follow-ups, ended, told."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_http_methods

from caseload.access import Act
from caseload.actions import appointments
from caseload.models import Appointment
from caseload.reads.patient import bookable
from caseload.timetable.terms import FollowUpKind, Outcome
from caseload.web.forms.appointment import BookForm, OutcomeForm, TellForm, name_of
from caseload.web.views.answering import FORM_METHODS, Page, allow, answer
from caseload.web.views.found import episode_at, named, to_episode, to_patient
from caseload.wording import label, say_date
from caseload.wording.record import say_hand


@require_http_methods(FORM_METHODS)
def note(request: HttpRequest, code: str) -> HttpResponse:
    """Note a day for one or more follow-ups of the patient; `?for=` names the one that is ticked at first."""
    by, episode = allow(request, Act.APPOINTMENT_NOTE), episode_at(code)
    rows = bookable(episode.patient, first=episode)
    wanted = next((row for row in rows if row.key == request.GET.get("for") and row.episode_id == episode.pk), None)
    about = named(episode.patient, by, episode)
    form = BookForm(
        request.POST or None, bookable=rows, today=by.today, since=episode.surgery_on, namesakes=about["namesakes"],
        initial={"follow_ups": [name_of(wanted)] if wanted else [], "site": episode.site.code,
                 "on": wanted and (wanted.proposed_on or wanted.first_after_on)},
    )  # fmt: skip
    page = Page("Note a booked day", "Save the day", to_episode(episode), preview=episode, context=about)
    return answer(
        request, by, form, page, lambda by: appointments.note_day(form.chosen(), by=by, **form.booking()),
        to=lambda _: to_episode(episode, "follow-ups"), saved="The day is noted.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def end(request: HttpRequest, code: str) -> HttpResponse:
    by, appointment = allow(request, Act.APPOINTMENT_END), _appointment_at(code)
    initial = {"version": appointment.version, "outcome": "" if appointment.on > by.today else Outcome.ATTENDED}
    form = OutcomeForm(request.POST or None, today=by.today, initial=initial)
    back = _back(appointment)
    about, context = _about(appointment), named(appointment.patient, by)
    page = Page("Outcome of an appointment", "Save the outcome", back, about, context=context, now=lambda: _now(code))
    return answer(
        request, by, form, page, lambda by: appointments.end(appointment, by=by, **form.said_of()),
        to=lambda _: back, saved="The outcome is recorded.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def tell(request: HttpRequest, code: str) -> HttpResponse:
    by, appointment = allow(request, Act.APPOINTMENT_TELL), _appointment_at(code)
    form = TellForm(request.POST or None, today=by.today, initial={"told": appointment.told})
    back = _back(appointment)
    page = Page("Does the patient know?", "Save", back, _about(appointment), context=named(appointment.patient, by))
    return answer(
        request, by, form, page, lambda by: appointments.tell(appointment, by=by, **form.said()),
        to=lambda _: back, saved="Recorded.",
    )  # fmt: skip


def _appointment_at(code: str) -> Appointment:
    rows = Appointment.objects.select_related("patient", "site").prefetch_related("purposes__follow_up__episode")
    return get_object_or_404(rows, code=code)


def _back(appointment: Appointment) -> str:
    """The page of the first episode that the appointment serves."""
    served = [purpose.follow_up.episode for purpose in appointment.purposes.all()]
    return to_episode(served[0], "appointments") if served else to_patient(appointment.patient)


def _about(appointment: Appointment) -> str:
    """The day, the site, and what it is for."""
    served = (purpose.follow_up for purpose in appointment.purposes.all())
    what = ", ".join(f"{label(FollowUpKind(row.kind))} ({say_hand(row.episode)})" for row in served)
    return f"{say_date(appointment.on)}, {appointment.site}: {what}."


def _now(code: str) -> tuple[int, dict[str, Any]]:
    appointment = Appointment.objects.get(code=code)
    return appointment.version, {"outcome": appointment.outcome, "why": appointment.ended_why}
