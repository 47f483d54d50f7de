"""People and sessions: who works here, the week by site, what differs from it; sessions of one day."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import NoReverseMatch, reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from caseload.access import Act, may
from caseload.actions import sessions
from caseload.models import Session
from caseload.reads import sessions as read
from caseload.reads.jobs import deriving
from caseload.reads.people import left_behind
from caseload.web.clock import by_of
from caseload.web.forms.sessions import ChangeSessionForm, SessionForm
from caseload.web.views.answering import FORM_METHODS, Page, answer, press
from caseload.wording import say_date


@require_safe
def show(request: HttpRequest) -> HttpResponse:
    by = by_of(request)
    context = {
        "today": by.today,
        "people": read.people(),
        "left_behind": left_behind(by.today),
        "sites": read.sites_with_week(by.today),
        "odd": read.odd_sessions(by.today),
        "absences": read.absences(by.today),
        "closures": read.closures(by.today),
        "deriving": deriving(),
        "closed": read.on_closed_days(by.today),
        "last_dated": read.last_dated(),
        "may_save_week": may(by.roles, Act.WEEK_SAVE),
        "may_read_trail": may(by.roles, Act.TRAIL_READ),
    }
    return render(request, "sessions/page.html", context)


@require_http_methods(FORM_METHODS)
def add(request: HttpRequest) -> HttpResponse:
    by = by_of(request)
    form = SessionForm(request.POST or None, today=by.today)
    page = Page("Add a session for one day", "Add the session", to_sessions())
    return answer(
        request, by, form, page, lambda by: sessions.add_session(by=by, **form.said()),
        to=lambda _: to_sessions("odd"), saved="The session is added. Its slots can be booked.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def change(request: HttpRequest, code: str) -> HttpResponse:
    by, session = by_of(request), session_at(code)
    initial = {"version": session.version, **_said_of(session)}
    form = ChangeSessionForm(request.POST or None, today=by.today, initial=initial)
    page = Page(
        "Change a session of one day", "Save the session", to_sessions("odd"), now=lambda: _now(code),
        note=f"{say_date(session.on)}, {session.site}. {_alone(session)}",
    )  # fmt: skip
    return answer(
        request, by, form, page,
        lambda by: sessions.change_session(session, by=by, version=form.cleaned_data["version"], **_hours(form)),
        to=lambda _: to_sessions("odd"), saved="The session of that day is changed.",
    )  # fmt: skip


def _alone(session: Session) -> str:
    return "The other days of its week stay as they are." if session.weekly_id else "It is held on this day only."


@require_POST
def hold_again(request: HttpRequest, code: str) -> HttpResponse:
    by, session = by_of(request), session_at(code)
    return press(
        request, by, lambda by: sessions.hold_again(session, by=by), to=to_sessions("odd"),
        saved="The session takes place again. Whoever had a place in it is to be booked anew.",
    )  # fmt: skip


def session_at(code: str) -> Session:
    return get_object_or_404(Session.objects.select_related("site", "therapist"), code=code)


def to_sessions(anchor: str = "") -> str:
    return reverse("sessions") + (f"#{anchor}" if anchor else "")


def address(*names: str) -> str:
    """Of some pages, the first that there is."""
    for name in names:
        try:
            return reverse(name)
        except NoReverseMatch:
            continue
    return ""


def _said_of(session: Session) -> dict[str, Any]:
    return {
        "therapist": session.therapist.code, "start": session.start_minute, "end": session.end_minute,
        "takes": session.takes, "ways": session.ways,
    }  # fmt: skip


def _hours(form: ChangeSessionForm) -> dict[str, Any]:
    said = form.said()
    return {"start_minute": said.pop("start"), "end_minute": said.pop("end"), **said}


def _now(code: str) -> tuple[int, dict[str, Any]]:
    session = session_at(code)
    return session.version, _said_of(session)
