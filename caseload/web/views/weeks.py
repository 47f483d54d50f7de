"""A weekly session: shown with what differs from it, added, changed from a day on, ended."""

from typing import Any, NamedTuple

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from caseload.access import Act, may
from caseload.actions import weeks
from caseload.actions.act import By
from caseload.actions.dating import HORIZON
from caseload.actions.rehearsal import look_ahead
from caseload.models import Session, Site, WeeklySession
from caseload.reads import sessions as read
from caseload.reads.weeks import AHEAD, empty_windows, without_day
from caseload.web.clock import by_of
from caseload.web.forms.sessions import EndWeekForm, WeekForm
from caseload.web.views.answering import FORM_METHODS, Page
from caseload.web.views.cautious import Doing, cautious
from caseload.web.views.sessions import address, to_sessions
from caseload.wording.sessions import say_empty, say_week


class Caution(NamedTuple):
    """Windows that would be left empty, in sentences; follow-ups without a usable day; sessions kept."""

    empty: list[str]
    left: int
    kept: list[Session]
    href: str

    def __bool__(self) -> bool:
        return bool(self.empty or self.left or self.kept)


@require_safe
def show(request: HttpRequest, code: str) -> HttpResponse:
    by, weekly = by_of(request), week_at(code)
    context = {
        "weekly": weekly,
        "differing": read.differing(weekly, by.today),
        "may_save_week": may(by.roles, Act.WEEK_SAVE),
    }
    return render(request, "sessions/week.html", context)


@require_http_methods(FORM_METHODS)
def add(request: HttpRequest) -> HttpResponse:
    by = by_of(request)
    form = WeekForm(request.POST or None, today=by.today, initial={"from_on": by.today})
    page = Page("Add a weekly session", "Add the weekly session", to_sessions(), caution="sessions/week_caution.html")
    return cautious(
        request, by, form, page, lambda by: weeks.save_week(by=by, **form.said()),
        lambda doing: _caution([form.cleaned_data["site"]], by, doing),
        to=to_week, saved="The weekly session is saved, and its sessions of the next half year are made.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def change(request: HttpRequest, code: str) -> HttpResponse:
    by, weekly = by_of(request), week_at(code)
    initial = {"version": weekly.version, "from_on": max(by.today, weekly.starts_on), **_said_of(weekly)}
    form = WeekForm(request.POST or None, today=by.today, initial=initial)
    page = Page(
        "Change a weekly session", "Save the weekly session", to_week(code), now=lambda: _now(code),
        note=say_week(weekly), caution="sessions/week_caution.html",
    )  # fmt: skip
    return cautious(
        request, by, form, page, lambda by: weeks.save_week(by=by, weekly=week_at(code), **form.said_of()),
        lambda doing: _caution([weekly.site, form.cleaned_data["site"]], by, doing),
        to=to_week, saved="The weekly session is changed, and its sessions with it.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def end(request: HttpRequest, code: str) -> HttpResponse:
    by, weekly = by_of(request), week_at(code)
    form = EndWeekForm(request.POST or None, today=by.today, initial={"version": weekly.version, "on": by.today})
    page = Page(
        "End a weekly session", "End it", to_week(code), note=say_week(weekly), caution="sessions/week_caution.html"
    )  # fmt: skip
    return cautious(
        request, by, form, page, lambda by: weeks.end_week(week_at(code), by=by, **form.said_of()),
        lambda doing: _caution([weekly.site], by, doing),
        to=to_week, saved="The weekly session has a last day.",
    )  # fmt: skip


def week_at(code: str) -> WeeklySession:
    return get_object_or_404(WeeklySession.objects.select_related("site", "therapist"), code=code)


def to_week(code: str) -> str:
    return reverse("week", args=[code])


def _caution(sites: list[Site], by: By, doing: Doing) -> Caution:
    before = {row.pk for row in read.changed(by.today)}

    def look() -> Caution:
        kept = [row for row in read.changed(by.today) if row.pk not in before]
        empty = [row for site in dict.fromkeys(sites) for row in empty_windows(site, by.today, by.today + AHEAD)]
        left = sum(len(without_day(site, by.today, by.today + HORIZON)) for site in set(sites))
        return Caution([say_empty(*row) for row in empty], left, kept, address("to-book", "caseload"))

    return look_ahead(doing, look)


def _said_of(weekly: WeeklySession) -> dict[str, Any]:
    return {
        "therapist": weekly.therapist.code, "site": weekly.site.code, "weekday": weekly.weekday,
        "start": weekly.start_minute, "end": weekly.end_minute, "takes": weekly.takes, "ways": weekly.ways,
        "ends_on": weekly.ends_on,
    }  # fmt: skip


def _now(code: str) -> tuple[int, dict[str, Any]]:
    weekly = week_at(code)
    return weekly.version, _said_of(weekly)
