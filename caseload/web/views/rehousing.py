"""A session called off, with the places proposed for its patients; and everybody who still waits for another place."""

from collections.abc import Sequence
from typing import Final
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from caseload.access import Act, may
from caseload.actions import rehousing as acts
from caseload.actions.act import By, Repeated
from caseload.actions.looks import looked_at
from caseload.errors import Refusal
from caseload.models import Appointment, Session
from caseload.reads import rehousing as read
from caseload.reads.names import names
from caseload.reads.reach import sees_all, unseen_by
from caseload.reads.rehousing_moving import LIMIT, rehousing_moving
from caseload.web.accepted import Accepted, Together, accepted_of
from caseload.web.clock import by_of
from caseload.web.diary_asked import code_in
from caseload.web.forms.diary import CallOffForm
from caseload.web.forms.record import RecordForm
from caseload.web.rehousing_moving import shown_chains
from caseload.web.rehousing_rows import rehousing_rows
from caseload.web.rows import Teller
from caseload.web.views.answering import FORM_METHODS, allow, route_of, warn_of_nothing

CALLED_OFF: Final = (
    "The session is called off. Everybody whom it concerned is to be told; "
    "whoever has no other place stands on the booking list."
)
MOVING: Final = "moving"
"""Asks, in an address, whether others should move."""
Refused = Sequence[tuple[Sequence[str], str]]
"""The codes of the appointments of each row or chain that was refused, and why."""


@require_http_methods(FORM_METHODS)
def call_off(request: HttpRequest, code: str) -> HttpResponse:
    """Whom it concerns and where they could go stands here before anything is done."""
    by = by_of(request)
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
            messages.success(request, CALLED_OFF)
        if not form.errors:
            return _rehoused(request, accepted_of(request.POST), by, session)
    asked = read.search(read.to_come(session) if session.live else [], at=by.at, without=session)
    here = reverse("session-call-off", args=[session.code])
    context = {
        "session": session, "form": form, "past": session.on < by.today, **_offers(request, asked, by, session),
        "ask_others": f"{here}?{MOVING}=1", "leave_others": here,
    }  # fmt: skip
    return render(request, "rehousing/call_off.html", context, status=422 if form.is_bound else 200)


@require_http_methods(FORM_METHODS)
def show(request: HttpRequest) -> HttpResponse:
    """Everybody who waits; `?session=` keeps to those of one session, `?moving=1` lets others move."""
    by = by_of(request)
    code = code_in(request.GET.get("session", ""))
    session = Session.objects.select_related("site", "therapist").filter(code=code).first() if code else None
    if request.method == "POST":
        allow(request, Act.SESSIONS_LOSE)
        form = RecordForm(request.POST, today=by.today)
        if form.is_valid():
            chosen = accepted_of(request.POST)
            warn_of_nothing(request, chosen)
            return _rehoused(request, chosen, by, session)
    return _waiting(request, by, session, ())


def _waiting(request: HttpRequest, by: By, session: Session | None, refused: Refused) -> HttpResponse:
    asked = read.search(read.waiting(session), at=by.at)
    context = {
        "session": session, "form": RecordForm(today=by.today), "may": may(by.roles, Act.SESSIONS_LOSE),
        "overtaken": _overtaken(request, by, refused) if refused else [], **_offers(request, asked, by),
        "address": _address(session, _may_others_move(request)),
        "ask_others": _address(session, True) if sees_all(by.staff) else "",
        "leave_others": _address(session, False),
    }  # fmt: skip
    return render(request, "rehousing/list.html", context, status=409 if refused else 200)


def _rehoused(
    request: HttpRequest, chosen: Sequence[Accepted | Together], by: By, session: Session | None
) -> HttpResponse:
    """Each row is an act of its own, and so is each chain: what was overtaken stays, with a new proposal."""
    refused: list[tuple[tuple[str, ...], str]] = []
    for each in chosen:
        try:
            each.carry_out(by)
        except Repeated:
            pass
        except Refusal as refusal:
            refused.append((each.codes, refusal.message))
    moved = sum(len(each.codes) for each in chosen) - sum(len(codes) for codes, _ in refused)
    if moved:
        have = "1 patient has another place and is" if moved == 1 else f"{moved} patients have other places and are"
        messages.success(request, f"{have} to be told.")
    if refused:
        return _waiting(request, by, session, refused)
    return redirect(_address(session, _may_others_move(request)))


def _overtaken(request: HttpRequest, by: By, refused: Refused) -> list[tuple[str, str]]:
    """Whom each refusal is about, and why; of a chain, of which nobody was moved, all of them."""
    codes = [code for those, _ in refused for code in those]
    rows = list(Appointment.objects.filter(code__in=codes).select_related("patient"))
    looked_at((row.patient_id for row in rows), by=by, route=route_of(request))
    named = {row.code: str(row.patient) for row in rows}
    return [("; ".join(named.get(code, "not there any more") for code in those), why) for those, why in refused]


def _address(session: Session | None, moving: bool) -> str:
    """The list of those who wait, of one session or of all."""
    kept = {"session": session.code if session else "", MOVING: "1" if moving else ""}
    query = urlencode({name: value for name, value in kept.items() if value})
    return reverse("rehousing") + (f"?{query}" if query else "")


def _may_others_move(request: HttpRequest) -> bool:
    return request.GET.get(MOVING) == "1"


def _offers(request: HttpRequest, asked: read.Search, by: By, lost: Session | None = None) -> dict[str, object]:
    """What is proposed for whoever is asked for; `lost` is the session that is about to be called off."""
    typed = lost is not None and request.method == "POST"
    tell, found = Teller(by.today, names()), _in_reach(read.rehoused(asked), by)
    ticked = request.POST.getlist("accept") if typed else None
    inside = sum(row.offer is not None and not row.breach for row in found)
    context = {"found": found, "all_inside": inside == len(found)}
    if context["all_inside"] or not (_may_others_move(request) and sees_all(by.staff)):
        _looked(request, by, found)
        return context | _table(found, tell, ticked)
    moving = rehousing_moving(asked, without=lost)
    chains = shown_chains(moving.chains, tell, request.POST.getlist("together") if typed else None)
    others = [row for chain in moving.chains for row in chain.others]
    _looked(request, by, [*found, *others])
    return context | _table(moving.alone, tell, ticked) | {
        "moving": moving, "before": inside, "chains": chains, "others": len(others), "limit": int(LIMIT),
    }  # fmt: skip


def _in_reach(found: list[read.Rehoused], by: By) -> list[read.Rehoused]:
    """The places are sought for all who wait, so that a therapist sees for their own what the office proposes."""
    others = unseen_by(by, (row.appointment.patient_id for row in found))
    return [row for row in found if row.appointment.patient_id not in others]


def _looked(request: HttpRequest, by: By, rows: list[read.Rehoused]) -> None:
    """Whose names are shown is recorded."""
    looked_at((row.appointment.patient_id for row in rows), by=by, route=route_of(request))


def _table(found: list[read.Rehoused], tell: Teller, sent: list[str] | None) -> dict[str, object]:
    return {
        "alone": found,
        "rows": rehousing_rows(found, tell, sent),
        "inside": sum(row.offer is not None and not row.breach for row in found),
        "breaches": sum(row.breach for row in found),
        "nowhere": sum(row.offer is None for row in found),
        "today": tell.today,
    }
