"""The patient: their page, added, corrected."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from caseload.actions import patients
from caseload.actions.looks import looked
from caseload.models import Patient
from caseload.reads.notices_of import notices_of
from caseload.reads.particulars import person_in_words
from caseload.reads.patient import namesakes_told, patient_page
from caseload.web.clock import by_of
from caseload.web.forms.patient import NewPatientForm, PatientForm, known_now
from caseload.web.views.answering import FORM_METHODS, Page, answer
from caseload.web.views.found import named, patient_at, to_patient


@require_safe
def show(request: HttpRequest, code: str) -> HttpResponse:
    by, patient = by_of(request), patient_at(code)
    looked(patient, by=by, route="patient")
    context = named(patient, by)
    context |= {
        "told_of": namesakes_told(patient, context["namesakes"], by),
        "page": patient_page(patient, today=by.today),
        "person": person_in_words(patient),
        "written": notices_of(patient),
    }
    return render(request, "patient/page.html", context)


@require_http_methods(FORM_METHODS)
def add(request: HttpRequest) -> HttpResponse:
    """A patient who looks like one already known is added only on a second, explicit sending."""
    by = by_of(request)
    form = NewPatientForm(request.POST or None, today=by.today)
    page = Page("Add a patient", "Add the patient", reverse("home"))
    return answer(
        request, by, form, page, lambda by: patients.add(by=by, **form.said()),
        to=lambda made: reverse("patient", args=[made]), saved="The patient is added. Next: the episode.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def correct(request: HttpRequest, code: str) -> HttpResponse:
    by, patient = by_of(request), patient_at(code)
    initial = {"version": patient.version, **known_now(patient)}
    form = PatientForm(request.POST or None, today=by.today, initial=initial)
    page = Page(
        "Correct the details", "Save the correction", to_patient(patient), context=named(patient, by),
        now=lambda: _now(code),
    )  # fmt: skip
    return answer(
        request, by, form, page,
        lambda by: patients.correct(
            patient, by=by, version=form.cleaned_data["version"], numbers=form.numbers_said(), **form.fields_said()
        ),
        to=lambda _: to_patient(patient), saved="The patient is corrected.",
    )  # fmt: skip


def _now(code: str) -> tuple[int, dict[str, Any]]:
    patient = Patient.objects.get(code=code)
    return patient.version, known_now(patient)
