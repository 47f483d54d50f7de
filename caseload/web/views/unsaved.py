"""A visit that was typed and cannot be saved any more as it was begun: what it says is shown, and where it can go."""

from collections.abc import Sequence
from typing import Any

from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import urlencode

from caseload.actions.act import By
from caseload.actions.looks import looked
from caseload.errors import Refusal
from caseload.models import Appointment, Episode, Patient
from caseload.reads.examining import Occasion, subjects_of
from caseload.reads.timetables import with_sources
from caseload.web.drafts import draft_at, is_live, typed
from caseload.web.forms.visit import VisitForm
from caseload.web.meanwhile import not_to_be_saved
from caseload.web.views.answering import route_of
from caseload.web.views.found import named


def unsaved(
    request: HttpRequest,
    by: By,
    patient: Patient,
    codes: Sequence[str],
    refusal: Refusal,
    appointment: Appointment | None = None,
) -> HttpResponse | None:
    """What this person typed for these digits, beside what was recorded since; None if nothing was typed."""
    draft = draft_at(request)
    data = request.POST if request.method == "POST" else typed(draft) if draft else None
    if data is None:
        return None
    form = _form(patient, codes, data, by, appointment)
    context = {"meanwhile": not_to_be_saved(form, refusal)}
    if is_live(request):
        return render(request, "visit/conflict.html", context)
    if request.method == "GET":
        looked(patient, by=by, route=route_of(request))
    context |= named(patient, by) | _instead(form, data, by, appointment) | {"draft": draft}
    return render(request, "visit/unsaved.html", context, status=409)


def _form(
    patient: Patient, codes: Sequence[str], data: QueryDict, by: By, appointment: Appointment | None
) -> VisitForm:
    """The form once more for the same digits, however they stand now."""
    of_patient = Episode.objects.filter(patient=patient, code__in=codes).select_related("patient")
    known = {row.code: row for row in with_sources(of_patient)}
    chosen = [known[code] for code in dict.fromkeys(codes) if code in known]
    occasion = Occasion(patient, subjects_of(chosen, by.today), [], appointment, [], [])
    return VisitForm(data, occasion=occasion, today=by.today)


def _instead(form: VisitForm, data: QueryDict, by: By, appointment: Appointment | None) -> dict[str, Any]:
    """Where what was typed for an appointment can still go: into a visit without one, where its digits are open."""
    episodes = form.occasion.episodes
    if appointment is None or not episodes or any(row.ended_on for row in episodes):
        return {}
    first, *others = (row.code for row in episodes)
    also = f"?{urlencode({'also': others}, doseq=True)}" if others else ""
    own = [(name, value) for name, values in data.lists() for value in values if name not in _OF_THE_APPOINTMENT]
    return {"instead": reverse("visit-new", args=[first]) + also, "typed": own}


_OF_THE_APPOINTMENT = frozenset({"csrfmiddlewaretoken", "key", "sure", "ours", "live", "version", "appointment"})
