"""Days on which somebody is away or a site is closed, with what they hit."""

from datetime import date
from typing import NamedTuple

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from caseload.actions import absences, service
from caseload.actions.act import By
from caseload.actions.rehearsal import look_ahead
from caseload.models import Absence, Appointment, Closure, Session, Site
from caseload.reads import sessions as read
from caseload.web.clock import by_of
from caseload.web.forms.sessions import AbsenceForm, ClosureForm, EndAbsenceForm
from caseload.web.views.answering import FORM_METHODS, Page, answer
from caseload.web.views.cautious import Doing, cautious
from caseload.web.views.sessions import address, to_sessions
from caseload.wording.dates import say_date


class Consequences(NamedTuple):
    """Sessions called off and passed on, who loses a place, and follow-ups with a new proposed day."""

    off: list[Session]
    passed: list[Session]
    appointments: tuple[Appointment, ...]
    moved: list[read.Moved]

    def __bool__(self) -> bool:
        return any(self)


@require_http_methods(FORM_METHODS)
def add(request: HttpRequest) -> HttpResponse:
    by = by_of(request)
    form = AbsenceForm(request.POST or None, today=by.today)
    page = Page("Add an absence", "Add the absence", to_sessions(), caution="sessions/consequences.html")
    return cautious(
        request, by, form, page, lambda by: absences.add_absence(by=by, **form.said()),
        lambda doing: _absent(form, by, doing),
        to=lambda _: to_sessions("absences"), saved="The absence is noted.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def end(request: HttpRequest, pk: int) -> HttpResponse:
    by = by_of(request)
    absence = get_object_or_404(Absence.objects.select_related("therapist"), pk=pk)
    form = EndAbsenceForm(request.POST or None, today=by.today, initial={"on": _last_day(absence, by.today)})
    page = Page("End an absence sooner", "Save", to_sessions("absences"), note=_who_and_when(absence))
    return answer(
        request, by, form, page, lambda by: absences.end_absence(absence, by=by, **form.said()),
        to=lambda _: to_sessions("absences"),
        saved="The absence ends sooner. Sessions called off for it can be held again below.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def close(request: HttpRequest) -> HttpResponse:
    by = by_of(request)
    form = ClosureForm(request.POST or None, today=by.today)
    page = Page("Add closed days", "Close these days", to_sessions(), caution="sessions/consequences.html")
    return cautious(
        request, by, form, page, lambda by: service.add_closure(by=by, **form.said()),
        lambda doing: _closed(form, by, doing),
        to=lambda _: to_sessions("closures"),
        saved="The days are closed. Whoever had a place in them is to be rehoused and told.",
    )  # fmt: skip


@require_safe
def closure(request: HttpRequest, pk: int) -> HttpResponse:
    by_of(request)
    row = get_object_or_404(Closure.objects.select_related("site"), pk=pk)
    context = {"closure": row, "fallen": read.fallen_away(row), "rehousing": address("rehousing", "overdue")}
    return render(request, "sessions/closure.html", context)


@require_POST
def reopen(request: HttpRequest, pk: int) -> HttpResponse:
    by = by_of(request)
    service.remove_closure(get_object_or_404(Closure, pk=pk), by=by)
    messages.success(request, "The days are open again. Sessions called off for them can be held again below.")
    return redirect(reverse("sessions") + "#odd")


def _last_day(absence: Absence, today: date) -> date:
    """Today while it lasts. Of one to come its own last day, since an earlier one would take it out unseen."""
    return today if absence.starts_on <= today else absence.ends_on


def _who_and_when(absence: Absence) -> str:
    first, last = say_date(absence.starts_on), say_date(absence.ends_on)
    return f"{absence.therapist}, {first if first == last else f'{first} to {last}'}: {absence.reason}"


def _absent(form: AbsenceForm, by: By, doing: Doing) -> Consequences:
    said = form.cleaned_data
    held = Session.objects.filter(therapist=said["therapist"], live=True).filter(
        on__gte=max(said["starts_on"], by.today), on__lte=said["ends_on"]
    )
    return _rehearsed(held, (), doing)


def _closed(form: ClosureForm, by: By, doing: Doing) -> Consequences:
    said = form.cleaned_data
    sites = [said["site"]] if said["site"] else list(Site.objects.all())
    first = max(said["starts_on"], by.today)
    hit = read.hit_by(said["starts_on"], said["ends_on"], sites, by.today)
    held = Session.objects.filter(site__in=sites, live=True, on__gte=first, on__lte=said["ends_on"])
    return _rehearsed(held, hit.follow_ups, doing)


def _rehearsed(held: read.Sessions, follow_ups: read.FollowUps, doing: Doing) -> Consequences:
    """What becomes of the sessions that are held now, once it is done."""
    before = list(held)
    booked = list(Appointment.objects.filter(session__in=before, live=True, outcome="").values_list("pk", flat=True))

    def look() -> Consequences:
        now = list(Session.objects.filter(pk__in=[row.pk for row in before]).select_related("site", "therapist"))
        lost = Appointment.objects.filter(pk__in=booked, live=False).select_related("patient")
        return Consequences(
            [row for row in now if not row.live], [row for row in now if row.live], tuple(lost),
            read.proposed_anew(follow_ups),
        )  # fmt: skip

    return look_ahead(doing, look)
