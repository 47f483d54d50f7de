"""Visits: what saving one would change is shown first; what was not shown is never saved."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from caseload.actions import visits
from caseload.actions.act import By, Repeated, carried_out
from caseload.actions.looks import looked
from caseload.actions.rehearsal import foresee
from caseload.errors import Refusal
from caseload.models import Appointment, Patient, Visit
from caseload.reads.examining import Occasion, occasion_of
from caseload.timetable.terms import Outcome
from caseload.web.changes import tell
from caseload.web.clock import by_of
from caseload.web.drafts import is_live, keeps_typed, typed_before
from caseload.web.forms.visit import VisitForm, first_values
from caseload.web.meanwhile import meanwhile
from caseload.web.views.answering import FORM_METHODS, route_of
from caseload.web.views.cautious import sealed
from caseload.web.views.found import episode_at, named, to_episode
from caseload.web.views.unsaved import unsaved


@require_http_methods(FORM_METHODS)
@keeps_typed
def for_episode(request: HttpRequest, code: str) -> HttpResponse:
    """A visit about one operated digit; `?also=` adds others of the same patient."""
    by = by_of(request)
    if (before := _sent_before(request, by)) is not None:
        return before
    patient, codes = episode_at(code).patient, [code, *request.GET.getlist("also")]
    try:
        occasion = occasion_of(patient, codes, today=by.today)
    except Refusal as refusal:
        return _over(request, by, patient, codes, refusal)
    return _page(request, by, occasion)


@require_http_methods(FORM_METHODS)
@keeps_typed
def for_appointment(request: HttpRequest, code: str) -> HttpResponse:
    """The visit that an appointment is for: the digits that it serves, and those that are added."""
    by = by_of(request)
    if (before := _sent_before(request, by)) is not None:
        return before
    appointments = Appointment.objects.select_related("patient").prefetch_related("purposes__follow_up__episode")
    appointment = get_object_or_404(appointments, code=code)
    served, also = [purpose.follow_up.episode for purpose in appointment.purposes.all()], request.GET.getlist("also")
    codes = [episode.code for episode in served if episode.ended_on is None] + also
    try:
        _check_kept(appointment, by)
        occasion = occasion_of(appointment.patient, codes, appointment=appointment, today=by.today)
    except Refusal as refusal:
        codes = [episode.code for episode in served] + also
        return _over(request, by, appointment.patient, codes, refusal, appointment)
    return _page(request, by, occasion)


def _over(
    request: HttpRequest,
    by: By,
    patient: Patient,
    codes: list[str],
    refusal: Refusal,
    appointment: Appointment | None = None,
) -> HttpResponse:
    """What cannot be recorded so any more: what was typed of it is shown all the same."""
    shown = unsaved(request, by, patient, codes, refusal, appointment)
    if shown is not None:
        return shown
    if appointment and hasattr(appointment, "visit"):
        messages.info(request, refusal.message)
        return redirect(to_visit(appointment.visit.code))
    raise refusal


def _check_kept(appointment: Appointment, by: By) -> None:
    """Nothing is typed in vain for an appointment that nobody kept, or whose visit is recorded."""
    if hasattr(appointment, "visit"):
        raise Refusal("recorded-already", "The visit of this appointment is recorded already.")
    if appointment.outcome not in ("", Outcome.ATTENDED):
        raise Refusal("not-attended", "This appointment ended otherwise. Record the visit as one without appointment.")
    if appointment.on > by.today:
        raise Refusal("not-yet", "This appointment is still to come. Record the visit as one without appointment.")


def _sent_before(request: HttpRequest, by: By) -> HttpResponse | None:
    """A form that was carried out already leads to what it made, whatever has become of its digits since."""
    code = carried_out(by) if request.method == "POST" else None
    return _landed(request, by, code) if code else None


def _landed(request: HttpRequest, by: By, code: str) -> HttpResponse:
    """On the visit that the same form made before; what was changed in the form since is shown beside it."""
    if is_live(request):
        return render(request, "visit/changes.html", {"saved": to_visit(code)})
    if request.POST.get("sure") == sealed(request.POST):
        return redirect(to_visit(code))
    visit = Visit.objects.select_related("patient").get(code=code)
    codes = list(visit.examined.values_list("episode__code", flat=True))
    refusal = Refusal("saved-already", "What you typed after that is not in the visit. Read both, then correct what is "
                      "recorded.", visit=to_visit(code))  # fmt: skip
    return unsaved(request, by, visit.patient, codes, refusal) or redirect(to_visit(code))


def _page(request: HttpRequest, by: By, occasion: Occasion) -> HttpResponse:
    about = named(occasion.patient, by, occasion.episodes[0] if len(occasion.subjects) == 1 else None)
    form = VisitForm(
        request.POST or None, occasion=occasion, today=by.today, namesakes=about["namesakes"],
        initial=first_values(occasion.appointment, by.today),
    )  # fmt: skip
    if request.method != "POST":
        looked(occasion.patient, by=by, route=route_of(request))
        return _shown(request, form, about, draft=typed_before(request, form))
    if is_live(request):
        return render(request, "visit/changes.html", {"form": form, **changes(request, by, form)})
    if form.is_valid() and request.POST.get("sure") == sealed(request.POST):
        return _saved(request, by, form, about)
    return _shown(request, form, about, **changes(request, by, form))


def changes(request: HttpRequest, by: By, form: VisitForm) -> dict[str, Any]:
    """What saving would bring about and the seal of what was typed; or, instead of a seal, what is wrong.

    The act is carried out and undone: the key of the form is not used up, and the rows are read anew.
    """
    if form.is_valid():
        try:
            found = foresee(
                form.occasion.patient, form.occasion.episodes, lambda: _record(form, by.unkeyed),
                today=by.today,
            )  # fmt: skip
            told = tell(found, form.occasion.episodes)
            return {"changes": told, "doubts": form.doubts(), "sure": sealed(request.POST)}
        except Refusal as refusal:
            return _refused(form, refusal)
        finally:
            _as_stored(form.occasion)
    return {"wrong": True, "status": 422}


def _refused(form: VisitForm, refusal: Refusal) -> dict[str, Any]:
    """What the page shows of a refusal. After a conflict the next sending is typed against what is stored now."""
    both = meanwhile(form, refusal)
    if both:
        return {"meanwhile": both, "status": 409}
    form.refuse(refusal)
    return {"wrong": True, "status": 422}


def _saved(request: HttpRequest, by: By, form: VisitForm, about: dict[str, Any]) -> HttpResponse:
    try:
        visit = _record(form, by)
    except Repeated as repeated:
        return _landed(request, by, repeated.outcome)
    except Refusal as refusal:
        _as_stored(form.occasion)
        return _shown(request, form, about, **_refused(form, refusal))
    messages.success(request, "The visit is recorded.")
    return redirect(to_visit(visit.code))


def _record(form: VisitForm, by: By) -> Visit:
    return visits.record(form.occasion.patient, by=by, looks=form.looks(), **form.common())


def _as_stored(occasion: Occasion) -> None:
    """An act that was undone or refused has changed the rows in memory."""
    for row in (occasion.patient, occasion.appointment, *occasion.of_today, *occasion.episodes):
        if row is not None:
            row.refresh_from_db()


def _shown(
    request: HttpRequest, form: VisitForm, about: dict[str, Any], *, status: int = 200, **more: Any
) -> HttpResponse:
    back, also = _back(form.occasion), request.GET.getlist("also")
    context = {"form": form, "parts": form.parts(), "back": back, "also": also, **about, **more}
    return render(request, "visit/page.html", context, status=status)


def _back(occasion: Occasion) -> str:
    return to_episode(occasion.episodes[0])


def to_visit(code: str) -> str:
    """The page of a saved visit."""
    return reverse("visit", args=[code])
