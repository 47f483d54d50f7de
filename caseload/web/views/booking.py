"""The pages on which one appointment is booked or moved."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_http_methods

from caseload.actions import appointments
from caseload.actions.act import By
from caseload.models import Appointment, Episode, FollowUp, Patient
from caseload.reads import names
from caseload.reads.patient import bookable
from caseload.web.clock import by_of
from caseload.web.forms.booking import BookForm, MoveForm, PlaceForm
from caseload.web.forms.places import name_of
from caseload.web.going_back import back_of
from caseload.web.views.answering import FORM_METHODS, Page, answer, shown
from caseload.web.views.appointment import about, appointment_at, page_of
from caseload.web.views.found import episode_at, named, to_episode

TEMPLATE = "appointment/book.html"


@require_http_methods(FORM_METHODS)
def book(request: HttpRequest, code: str) -> HttpResponse:
    """Book one visit for one or more follow-ups; each `?for=` names one that is ticked at first, by its key or with the
    code of its episode before; `?slot=` is the place that is chosen at first."""
    by, episode = by_of(request), episode_at(code)
    rows = [row for row in bookable(episode.patient, first=episode) if row.episode.site_id == episode.site_id]
    wanted = _wanted(request, rows, episode)
    context = named(episode.patient, by, episode)
    options = _options(by, episode.patient, context) | {"bookable": rows, "since": episode.surgery_on}
    form = _form(request, BookForm, options, {"follow_ups": [name_of(row) for row in wanted]} | _slot(request))
    back = back_of(request, to_episode(episode, "follow-ups"))
    page = Page("Book an appointment", "Book", back, context=context, template=TEMPLATE, cautions=True)
    if "again" in request.POST:
        return shown(request, form, page)
    return answer(
        request, by, form, page, lambda by: appointments.book(form.rows(), by=by, **form.place()),
        to=lambda _: back, saved="Booked.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def move(request: HttpRequest, code: str) -> HttpResponse:
    by, appointment = by_of(request), appointment_at(code)
    context = named(appointment.patient, by)
    serves = FollowUp.objects.filter(purposes__appointment=appointment).select_related("episode__site", "patient")
    options = _options(by, appointment.patient, context) | {"serves": serves}
    form = _form(request, MoveForm, options, {"version": appointment.version, "way": appointment.way} | _slot(request))
    back = back_of(request, page_of(appointment))
    page = Page("Move an appointment", "Move", back, f"Now: {about(appointment)}", context=context, template=TEMPLATE,
                now=lambda: _now(code), cautions=True)  # fmt: skip
    if "again" in request.POST:
        return shown(request, form, page)
    version = "version" in form.fields
    return answer(
        request, by, form, page,
        lambda by: appointments.move(
            appointment, by=by, version=form.cleaned_data["version"] if version else None, **form.place()
        ),
        to=lambda _: back, saved="Moved.",
    )  # fmt: skip


def _wanted(request: HttpRequest, rows: list[FollowUp], episode: Episode) -> list[FollowUp]:
    """What the address names; the first of the episode where it names nothing."""
    named = request.GET.getlist("for")
    own = [row for row in rows if row.episode_id == episode.pk]
    found = [row for row in rows if name_of(row) in named or (row.episode_id == episode.pk and row.key in named)]
    return found if named else own[:1]


def _slot(request: HttpRequest) -> dict[str, str]:
    return {"slot": request.GET["slot"]} if "slot" in request.GET else {}


def _options(by: By, patient: Patient, context: dict[str, Any]) -> dict[str, Any]:
    return {"patient": patient, "namesakes": context["namesakes"], "at": by.at, "known": names.names(),
            "today": by.today}  # fmt: skip


def _form(request: HttpRequest, kind: type[PlaceForm], options: dict[str, Any], initial: dict[str, Any]) -> Any:
    """The form empty, as sent, or with what was typed so far when only other times are asked for."""
    if "again" in request.POST:
        typed = {name: value for name, value in request.POST.items() if name not in ("key", "slot")}
        lists = {"follow_ups": request.POST.getlist("follow_ups")}
        return kind(None, initial=initial | typed | lists, **options)
    return kind(request.POST or None, initial=initial, **options)


def _now(code: str) -> tuple[int, dict[str, Any]]:
    appointment = Appointment.objects.get(code=code)
    return appointment.version, {"way": appointment.way, "told": appointment.told}
