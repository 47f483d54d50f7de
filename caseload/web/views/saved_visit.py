"""A saved visit: read, what it leaves to do booked with one press, withdrawn."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import NoReverseMatch, reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from caseload.access import Act
from caseload.actions import appointments, visits
from caseload.actions.act import By
from caseload.actions.looks import looked
from caseload.errors import Refusal
from caseload.models import Appointment, Episode, Session, Told, TrailEntry, Visit
from caseload.reads.consequences import Consequences
from caseload.reads.names import names
from caseload.reads.saved_visit import left_to_do, looked_at, next_of
from caseload.reads.visit_moves import moved_by
from caseload.reads.visit_to_book import visit_to_book
from caseload.timetable.terms import Source
from caseload.web import changes
from caseload.web.clock import by_of
from caseload.web.drafts import draft_at
from caseload.web.forms.finding import WithdrawForm
from caseload.web.forms.places import SLOT, place_in_words
from caseload.web.views.answering import FORM_METHODS, Page, answer, press, route_of
from caseload.web.views.found import named
from caseload.wording import say_date


@require_safe
def show(request: HttpRequest, code: str) -> HttpResponse:
    by, visit = by_of(request), visit_at(code)
    looked(visit.patient, by=by, route=route_of(request))
    looks = looked_at(visit)
    episodes = [look.examined.episode for look in looks]
    left = None if visit.withdrawn_at else left_to_do(visit, looks, at=by.at, today=by.today)
    known = names()
    context = named(visit.patient, by, episodes[0] if len(looks) == 1 else None) | {
        "visit": visit,
        "looks": looks,
        "moved": [] if visit.withdrawn_at else _moved(visit, episodes),
        "left": left,
        "offered": [_offered(each, known) for each in left.to_book] if left else [],
        "sheets": [(row, _or_none("plan-sheet", row.code)) for row in episodes],
        "withdrawn_by": _withdrawn_by(visit),
        "unsaved": _unsaved(request, visit),
        "next": next_of(by.person, by.today, visit.appointment),
    }
    return render(request, "visit/saved.html", context)


@require_POST
def book(request: HttpRequest, code: str) -> HttpResponse:
    """Book one of the places that the page of a saved visit offers; a patient who is there is told."""
    by, visit = by_of(request), visit_at(code)
    told = Told.TOLD if visit.source == Source.SEEN and visit.on == by.today else Told.UNTOLD
    saved = "Say the day and the time to the patient." if told == Told.TOLD else "The patient is still to be told."
    return press(
        request, by, lambda by: _book(request, visit, told, by), to=reverse("visit", args=[code]) + "#left",
        saved=f"Booked. {saved}",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def withdraw(request: HttpRequest, code: str) -> HttpResponse:
    by, visit = by_of(request), visit_at(code)
    form = WithdrawForm(request.POST or None, today=by.today)
    form.groups = (("Withdraw this visit", ("why",)),)
    note = (
        f"The visit of {say_date(visit.on)}. Everything that was found, measured and asked for at it is withdrawn with "
        "it and stays readable. An episode that it closed is open again, and its appointment waits for its outcome "
        "again; what was cancelled when it closed stays cancelled, and is on the booking list."
    )
    back = reverse("visit", args=[code])
    page = Page("Withdraw a visit", "Withdraw it", back, note, context=named(visit.patient, by))
    return answer(
        request, by, form, page, lambda by: visits.withdraw(visit, by=by, **form.said()), to=lambda _: back,
        saved="The visit is withdrawn; it stays readable.",
    )  # fmt: skip


def visit_at(code: str) -> Visit:
    rows = Visit.objects.select_related("patient", "by", "appointment__site")
    return get_object_or_404(rows, code=code)


def _moved(visit: Visit, episodes: list[Episode]) -> list[changes.Told]:
    return changes.tell(Consequences(moved_by(visit, episodes), [], [], []), episodes)


def _offered(each: Any, known: Any) -> dict[str, Any]:
    """What a visit is for, and its places: the value of each, when, and why."""
    about = each.rows[0]
    return {
        "rows": each.rows,
        "about": about,
        "places": [place_in_words(offer, about, known) for offer in each.offers],
        "by_hand": f"{reverse('appointment-new', args=[about.episode.code])}?for={about.key}",
    }


def _book(request: HttpRequest, visit: Visit, told: Told, by: By) -> Appointment:
    """Raises Refusal where the place or what it is for is not there any more."""
    place = SLOT.fullmatch(request.POST.get("slot", ""))
    wanted = visit_to_book(request.POST.get("row", "").replace("\0", ""))
    session = place and Session.objects.filter(code=place[1]).first()
    if not place or session is None or wanted is None or wanted.about.patient_id != visit.patient_id:
        raise Refusal("place-gone", "This place is not offered any more. Choose another one.")
    served = request.POST.getlist("for")
    rows = [row for row in wanted.able if f"{row.episode.code}/{row.key}" in served]
    return appointments.book(rows or [wanted.about], by=by, session=session, start=int(place[2]), told=told)


def _unsaved(request: HttpRequest, visit: Visit) -> str:
    """Where this person finds what they typed for the same appointment before somebody else recorded it."""
    place = reverse("appointment-visit", args=[visit.appointment.code]) if visit.appointment else ""
    return place if place and draft_at(request, place) else ""


def _withdrawn_by(visit: Visit) -> str:
    if not visit.withdrawn_at:
        return ""
    entry = TrailEntry.objects.filter(act=Act.VISIT_WITHDRAW, subject="visit", subject_id=visit.pk).first()
    return entry.by.name if entry and entry.by else ""


def _or_none(route: str, code: str) -> str:
    try:
        return reverse(route, args=[code])
    except NoReverseMatch:
        return ""
