"""Everything held on one patient as a file; a record kept beyond its time; records whose time is over."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from caseload.actions import patient_files, retention
from caseload.models import Patient
from caseload.reads.retention import survey
from caseload.web.clock import by_of
from caseload.web.forms.privacy import KeepForm, PatientFileForm, RemoveForm
from caseload.web.views.answering import FORM_METHODS, Page, answer
from caseload.web.views.found import named, patient_at, to_patient


@require_http_methods(FORM_METHODS)
def file(request: HttpRequest, code: str) -> HttpResponse:
    by, patient = by_of(request), patient_at(code)
    form = PatientFileForm(request.POST or None, today=by.today)
    page = Page(
        "Everything held on a patient", "Make the file", to_patient(patient), context=named(patient, by),
        note="Every row of every table that is about this patient: a page to read, and a table each for a spreadsheet. "
        "Who took it away, and what for, is recorded.",
    )  # fmt: skip
    return answer(
        request, by, form, page, lambda by: patient_files.ask(patient, by=by, why=form.cleaned_data["why"]),
        to=lambda job: reverse("job", args=[job]), saved="The file is being made.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def keep(request: HttpRequest, code: str) -> HttpResponse:
    by, patient = by_of(request), patient_at(code)
    form = KeepForm(request.POST or None, today=by.today, initial={"version": patient.version, **_kept(patient)})
    page = Page(
        "Keep a record", "Save", to_patient(patient), context=named(patient, by), now=lambda: _now(code),
        note="A record that is kept here is not removed when its time is over.",
    )  # fmt: skip
    return answer(
        request, by, form, page, lambda by: retention.keep(patient, by=by, **form.said_of()),
        to=lambda _: to_patient(patient, "held"), saved="It is saved how long the record is kept.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def over(request: HttpRequest) -> HttpResponse:
    """The dry run: whose record has outlived its time. What it lists is removed once its words are typed."""
    by = by_of(request)
    seen = survey(by.today)
    listed = seen.over[: retention.AT_ONCE]
    codes = [row.code for row in listed]
    form = RemoveForm(request.POST or None, today=by.today, listed=codes)
    context = {"seen": seen, "listed": listed, "kept": seen.kept.most_common()}
    page = Page("Records whose time is over", "Remove them", reverse("sessions"), template="privacy/over.html",
                context=context)  # fmt: skip
    return answer(
        request, by, form, page, lambda by: retention.ask(codes, by=by),
        to=lambda job: reverse("job", args=[job]), saved="They are being removed, one record after the other.",
    )  # fmt: skip


def _kept(patient: Patient) -> dict[str, Any]:
    return {"keep_why": patient.keep_why, "keep_until_on": patient.keep_until_on}


def _now(code: str) -> tuple[int, dict[str, Any]]:
    patient = patient_at(code)
    return patient.version, _kept(patient)
