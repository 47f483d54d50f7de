"""Appointments for calendar programs: one as a file, and a therapist's own at a private address."""

from typing import Any
from uuid import uuid4

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from caseload.actions import feeds
from caseload.actions.act import Repeated
from caseload.actions.looks import looked
from caseload.errors import Refusal
from caseload.exchange.icalendar import Method, calendar_file
from caseload.models import Feed
from caseload.reads.feeds import events_of, feed_at, for_the_patient
from caseload.web.clock import by_of
from caseload.web.views.answering import press, route_of
from caseload.web.views.appointment import appointment_at

KIND = "text/calendar; charset=utf-8"


@require_safe
def one(request: HttpRequest, code: str) -> HttpResponse:
    """One appointment as a file for the patient's calendar; a cancelled one takes the visit out of it."""
    appointment = appointment_at(code)
    if appointment.start_minute is None:
        raise Refusal("no-time", "This visit was not booked for a time, so a calendar cannot hold it.")
    looked(appointment.patient, by=by_of(request), route=route_of(request))
    visit = for_the_patient(appointment)
    method: Method = "CANCEL" if visit.cancelled else "PUBLISH"
    data = calendar_file([visit], name="Hand therapy", method=method)
    headers = {"Content-Disposition": 'attachment; filename="visit.ics"'}
    return HttpResponse(data, content_type=f"{KIND}; method={method}", headers=headers)


@login_not_required
@require_safe
def serve(request: HttpRequest, key: str) -> HttpResponse:
    """The calendar at a private address. One that was withdrawn is as unknown as one that never was."""
    feed = feed_at(key)
    if feed is None:
        raise Http404
    events = events_of(feed, timezone.localdate())
    return HttpResponse(calendar_file(events, name="Hand therapy"), content_type=KIND)


@require_POST
def make(request: HttpRequest) -> HttpResponse:
    """The address stands in the answer to this form and nowhere else: it is not kept."""
    try:
        key = feeds.make(by=by_of(request))
    except Repeated:
        return _page(request, again=True)
    return _page(request, address=request.build_absolute_uri(reverse("feed-file", args=[key])))


@require_POST
def revoke(request: HttpRequest) -> HttpResponse:
    return press(
        request, by_of(request), lambda by: feeds.revoke(by=by), to=reverse("feed"), saved="The address is withdrawn."
    )


@require_POST
def initials(request: HttpRequest) -> HttpResponse:
    shown = request.POST.get("shown") == "1"
    saved = "The calendar shows initials now." if shown else "The calendar shows no initials now."
    return press(
        request, by_of(request), lambda by: feeds.set_initials(by=by, shown=shown), to=reverse("feed"), saved=saved
    )


def _page(request: HttpRequest, **context: Any) -> HttpResponse:
    by = by_of(request)
    feed = Feed.objects.filter(staff=by.person).first()
    return render(request, "feed/page.html", {"feed": feed, "key": uuid4(), **context})


show = require_safe(_page)
