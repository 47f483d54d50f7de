"""The request for therapy: added and corrected."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_http_methods

from caseload.actions import referrals
from caseload.models import Referral
from caseload.web.clock import by_of
from caseload.web.forms.patient import CorrectReferralForm, ReferralForm
from caseload.web.views.answering import FORM_METHODS, Page, answer
from caseload.web.views.found import named, patient_at, to_patient


@require_http_methods(FORM_METHODS)
def add(request: HttpRequest, code: str) -> HttpResponse:
    by, patient = by_of(request), patient_at(code)
    form = ReferralForm(request.POST or None, today=by.today)
    page = Page("Add a referral", "Add the referral", to_patient(patient), context=named(patient, by))
    return answer(
        request, by, form, page, lambda by: referrals.add(patient, by=by, **form.said()),
        to=lambda _: to_patient(patient, "referrals"), saved="The referral is added.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def correct(request: HttpRequest, code: str) -> HttpResponse:
    by = by_of(request)
    referral = get_object_or_404(Referral.objects.select_related("patient"), code=code)
    form = CorrectReferralForm(
        request.POST or None, today=by.today, initial={"version": referral.version, **_said_of(referral)}
    )
    back = to_patient(referral.patient, "referrals")
    page = Page(
        "Correct a referral", "Save the correction", back, context=named(referral.patient, by),
        now=lambda: _now(code),
    )  # fmt: skip
    return answer(
        request, by, form, page,
        lambda by: referrals.correct(referral, by=by, **form.said_of()),
        to=lambda _: back, saved="The referral is corrected.",
    )  # fmt: skip


def _said_of(referral: Referral) -> dict[str, Any]:
    names = set(CorrectReferralForm.base_fields) - {"key", "version"}
    return {name: getattr(referral, name) for name in names}


def _now(code: str) -> tuple[int, dict[str, Any]]:
    referral = Referral.objects.get(code=code)
    return referral.version, _said_of(referral)
