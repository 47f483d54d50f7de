"""Calls and messages, logged for a patient or for one of their episodes."""

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_http_methods

from caseload.actions import contacts
from caseload.web.clock import by_of
from caseload.web.forms.care import ContactForm
from caseload.web.views.answering import FORM_METHODS, Page, answer
from caseload.web.views.found import episode_at, named, patient_at, to_episode, to_patient


@require_http_methods(FORM_METHODS)
def log_for_episode(request: HttpRequest, code: str) -> HttpResponse:
    by, episode = by_of(request), episode_at(code)
    form = ContactForm(request.POST or None, today=by.today)
    context = named(episode.patient, by, episode)
    page = Page("Log a call or a message", "Save", to_episode(episode), context=context)
    return answer(
        request, by, form, page, lambda by: contacts.log(episode.patient, by=by, episode=episode, **form.said()),
        to=lambda _: to_episode(episode, "contacts"), saved="The contact is logged.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def log_for_patient(request: HttpRequest, code: str) -> HttpResponse:
    by, patient = by_of(request), patient_at(code)
    form = ContactForm(request.POST or None, today=by.today)
    page = Page("Log a call or a message", "Save", to_patient(patient), context=named(patient, by))
    return answer(
        request, by, form, page, lambda by: contacts.log(patient, by=by, **form.said()),
        to=lambda _: to_patient(patient, "contacts"), saved="The contact is logged.",
    )  # fmt: skip
