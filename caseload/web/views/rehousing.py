"""A session called off, with the places proposed for its patients; and everybody who still waits for another place."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from caseload.access import Act, may
from caseload.actions import rehousing as acts
from caseload.actions.act import By, Repeated
from caseload.errors import Refusal
from caseload.models import Session
from caseload.reads import rehousing as read
from caseload.reads.names import names
from caseload.web.accepted import Accepted, accepted_of
from caseload.web.clock import by_of
from caseload.web.diary_asked import code_in
from caseload.web.forms.diary import CallOffForm
from caseload.web.forms.record import RecordForm
from caseload.web.rehousing_rows import rehousing_rows
from caseload.web.rows import Teller
from caseload.web.views.answering import FORM_METHODS, allow


@require_http_methods(FORM_METHODS)
def call_off(request: HttpRequest, code: str) -> HttpResponse:
    """Whom it concerns and where they could go stands here before anything is done."""
    by = allow(request, Act.SESSIONS_LOSE)
    session = get_object_or_404(Session.objects.select_related("site", "therapist"), code=code)
    form = CallOffForm(request.POST or None, today=by.today)
    if request.method == "POST" and form.is_valid():
        try:
            acts.call_off([session], by=by, why=form.cleaned_data["why"])
        except Repeated:
            pass
        except Refusal as refusal:
            form.refuse(refusal)
        else:
            messages.success(
                request, "The session is called off. Whom it concerned is on the booking list, to be told."
            )
        if not form.errors:
            return _rehoused(request, accepted_of(request.POST), by, session)
    sent = request.POST.getlist("accept") if form.is_bound else None
    found = read.rehousing(read.to_come(session), at=by.at, without=session) if session.live else []
    context = {"session": session, "form": form, "past": session.on < by.today, **_table(found, by, sent)}
    return render(request, "rehousing/call_off.html", context, status=422 if form.is_bound else 200)


@require_http_methods(FORM_METHODS)
def show(request: HttpRequest) -> HttpResponse:
    """Everybody who waits; `?session=` keeps to those of one session."""
    by = by_of(request)
    code = code_in(request.GET.get("session", ""))
    session = Session.objects.select_related("site", "therapist").filter(code=code).first() if code else None
    if request.method == "POST":
        allow(request, Act.SESSIONS_LOSE)
        form = RecordForm(request.POST, today=by.today)
        if form.is_valid():
            return _rehoused(request, accepted_of(request.POST), by, session)
    return _waiting(request, by, session, {})


def _waiting(request: HttpRequest, by: By, session: Session | None, refused: dict[str, str]) -> HttpResponse:
    found = read.rehousing(read.waiting(session), at=by.at)
    context = {
        "session": session, "form": RecordForm(today=by.today), "may": may(by.roles, Act.SESSIONS_LOSE),
        "overtaken": [(row.appointment.patient, refused[row.appointment.code]) for row in found
                      if row.appointment.code in refused],
        **_table(found, by),
    }  # fmt: skip
    return render(request, "rehousing/list.html", context, status=409 if refused else 200)


def _rehoused(request: HttpRequest, chosen: list[Accepted], by: By, session: Session | None) -> HttpResponse:
    """Each row is an act of its own: what was overtaken stays on the list, with a new proposal."""
    refused: dict[str, str] = {}
    for each in chosen:
        try:
            each.carry_out(by)
        except Repeated:
            pass
        except Refusal as refusal:
            refused[each.code] = refusal.message
    moved = len(chosen) - len(refused)
    if moved:
        have = "1 patient has another place and is" if moved == 1 else f"{moved} patients have other places and are"
        messages.success(request, f"{have} to be told.")
    if refused:
        return _waiting(request, by, session, refused)
    return redirect(reverse("rehousing") + (f"?session={session.code}" if session else ""))


def _table(found: list[read.Rehoused], by: By, sent: list[str] | None = None) -> dict[str, object]:
    tell = Teller(by.today, names())
    return {
        "found": found,
        "rows": rehousing_rows(found, tell, sent),
        "inside": sum(row.offer is not None and not row.breach for row in found),
        "breaches": sum(row.breach for row in found),
        "nowhere": sum(row.offer is None for row in found),
        "today": by.today,
    }
