"""The record of a colleague's patient: the question for a reason instead of the page, and the reason given.

The page names no patient: whoever asks is told no more than the address they came with.
"""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from caseload.actions.act import By, Repeated
from caseload.actions.reach import open_with_reason
from caseload.errors import Refusal
from caseload.models import Patient
from caseload.reads.reach import reached
from caseload.web.clock import by_of, now
from caseload.web.drafts import is_live, kept_for_later
from caseload.web.forms.reason import ReasonForm
from caseload.web.going_back import back_of
from caseload.web.views.found import patient_at, to_patient

FORM_METHODS = ["GET", "HEAD", "POST"]
NOT_YOURS = 403


def ask_why(request: HttpRequest, patient: Patient) -> HttpResponse:
    """Instead of a page about a patient who is not theirs. What was typed there is kept, where its page keeps any."""
    sent = request.method == "POST"
    kept = sent and kept_for_later(request)
    if sent and is_live(request):
        return HttpResponse(status=NOT_YOURS)
    back = request.get_full_path() if kept or not sent else to_patient(patient)
    form = ReasonForm(today=timezone.localdate(now()), initial={"back": back})
    return _page(request, patient, form, sent=sent, kept=kept)


@require_http_methods(FORM_METHODS)
def open_record(request: HttpRequest, code: str) -> HttpResponse:
    """Open the record with a reason and go to the page that was asked for; straight there where it is theirs anyway."""
    by, patient = by_of(request), patient_at(code)
    back = back_of(request, to_patient(patient))
    if reached(by.staff, patient.pk, by.at):
        return redirect(back)
    form = ReasonForm(request.POST or None, today=by.today, initial={"back": back})
    if form.is_valid() and _opened(form, patient, by):
        messages.success(request, "The record is open to you for twelve hours. Your reason is kept with what you see.")
        return redirect(back)
    return _page(request, patient, form, sent=False, kept=False)


def _opened(form: ReasonForm, patient: Patient, by: By) -> bool:
    try:
        open_with_reason(patient, why=form.cleaned_data["why"], by=by)
    except Repeated:
        return True
    except Refusal as refusal:
        form.refuse(refusal)
        return False
    return True


def _page(request: HttpRequest, patient: Patient, form: ReasonForm, *, sent: bool, kept: bool) -> HttpResponse:
    status = 422 if form.is_bound else NOT_YOURS
    context = {"form": form, "code": patient.code, "sent": sent, "kept": kept}
    return render(request, "policy/reason.html", context, status=status)
