"""Everything held on one patient as a file; a record kept beyond its time; records whose time is over."""

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from caseload.access import Act
from caseload.actions import patient_files
from caseload.web.forms.privacy import PatientFileForm
from caseload.web.views.answering import FORM_METHODS, Page, allow, answer
from caseload.web.views.found import named, patient_at, to_patient


@require_http_methods(FORM_METHODS)
def file(request: HttpRequest, code: str) -> HttpResponse:
    by, patient = allow(request, Act.PATIENT_FILE), patient_at(code)
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
