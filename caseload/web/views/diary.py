"""The diary by day and by week, and an appointment moved in it."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from caseload.access import Act, may
from caseload.actions import appointments
from caseload.actions.act import By, Repeated
from caseload.booking.clock import local_of
from caseload.booking.slots import clock
from caseload.errors import Refusal
from caseload.models import Session
from caseload.reads.diary import Diary, diary_of
from caseload.reads.reach import unseen_by
from caseload.reads.undoable import undoable
from caseload.web.clock import by_of, staff_of
from caseload.web.diary_asked import Asked, read_asked
from caseload.web.diary_moves import Moving, moving_of
from caseload.web.diary_rows import Free, Shown, address, closed_words, day_rows, in_short
from caseload.web.diary_values import DIARY, diary_values
from caseload.web.exports import as_file, is_export
from caseload.web.forms.diary import MoveForm
from caseload.web.rows import Teller
from caseload.web.views.answering import FORM_METHODS
from caseload.wording import say_date


@require_http_methods(FORM_METHODS)
def show(request: HttpRequest) -> HttpResponse:
    by = by_of(request)
    asked = read_asked(request.GET.dict(), by.today)
    if is_export(request):
        diary = diary_of(asked.first, asked.last, asked.site, by)
        return as_file(request, "diary", DIARY, diary_values(diary, by.today), of=asked.first)
    moving = _moving(asked, by)
    form = _form(request, moving, asked, by) if moving else None
    if moving and form and request.method == "POST" and form.is_valid():
        try:
            return _moved(request, moving, form, asked, by)
        except Refusal as refusal:
            moving = _moving(asked, by)
            form.refuse(refusal)
    return _page(request, asked, by, moving, form)


def _moving(asked: Asked, by: By) -> Moving | None:
    if not asked.moving:
        return None
    try:
        found = moving_of(asked.moving)
    except Refusal as refusal:
        asked.moving = ""
        asked.remarks.append(refusal.message)
        return None
    if found is None:
        asked.moving = ""
        asked.remarks.append(
            "This appointment cannot be moved: the patient has come, or it has ended or has no session."
        )
    elif unseen_by(by, [found.appointment.patient_id]):
        asked.moving = ""
        asked.remarks.append("This is an appointment of a colleague's patient. Open the record with a reason first.")
        return None
    return found


def _form(request: HttpRequest, moving: Moving, asked: Asked, by: By) -> MoveForm:
    early, initial = moving.is_early(asked.on), {"version": moving.appointment.version}
    return MoveForm(request.POST or None, early=early, today=by.today, initial=initial)


def _moved(request: HttpRequest, moving: Moving, form: MoveForm, asked: Asked, by: By) -> HttpResponse:
    code, minute = form.place()
    session = Session.objects.select_related("site__region").filter(code=code).first()
    if session is None:
        raise Refusal("no-such-session", "There is no such session any more. Choose another.")
    try:
        appointments.move(moving.appointment, by=by, session=session, start=minute, **form.moving())
        where = f"{say_date(session.on)}, {clock(minute)}"
        messages.success(request, f"{moving.appointment.patient} is moved to {where}.")
    except Repeated:
        pass
    return redirect(f"{request.path}{asked.href(session.on, moving='')}#v-{moving.appointment.code}")


def _page(request: HttpRequest, asked: Asked, by: By, moving: Moving | None, form: MoveForm | None) -> HttpResponse:
    diary = diary_of(asked.first, asked.last, asked.site, by)
    shown = _shown(diary, by, moving)
    pages = [
        {"page": page, "href": asked.href(page.on, week=False), "closed": _closed(page.closed, shown),
         "rows": in_short(page.sittings, shown) if asked.week else day_rows(page, shown)}
        for page in diary.pages
        if not asked.week or page.sittings or page.beside or page.on.weekday() < 5
    ]  # fmt: skip
    steps = undoable(staff_of(request), by.at)
    context = {
        "asked": asked, "diary": diary, "pages": pages, "today": by.today, "moving": moving, "form": form,
        "steps": steps, "back": request.get_full_path(), **_beside(asked, diary, by),
        "breach": moving and moving.breach(asked.on),
        "full": moving and not any(moving.has_start(page.sittings, shown) for page in diary.pages),
    }  # fmt: skip
    status = 200 if form is None or not form.is_bound else 422
    return render(request, "diary/week.html" if asked.week else "diary/day.html", context, status=status)


def _shown(diary: Diary, by: By, moving: Moving | None) -> Shown:
    now = {site.pk: local_of(by.at, site.zone) for site in diary.sites}
    sites = {site.pk: site.name for site in diary.sites}
    shown = Shown(Teller(by.today), now, sites, _free(now), may_call_off=may(by.roles, Act.SESSIONS_LOSE))
    if moving is None:
        return shown
    return shown._replace(moving=moving.appointment.code, free=lambda free: moving.start(free, shown))


def _free(now: dict[int, tuple[Any, int]]) -> Any:
    def drawn(free: Free) -> str:
        sitting, minute = free
        if (sitting.on, minute) <= now[sitting.site_id]:
            return f'<span class="soft">{clock(minute)}</span>'
        return f'<a href="{address("slot", sitting.code, minute)}">{clock(minute)}</a>'

    return drawn


def _closed(closed: dict[int, Any], shown: Shown) -> list[str]:
    """Each site that is shut, with why; where all are shut for one reason it is said once."""
    said = {site: closed_words(why) for site, why in closed.items()}
    if len(said) == len(shown.sites) and len(set(said.values())) == 1:
        return [f"Closed: {next(iter(said.values()))}"]
    return [f"{shown.sites[site]} is closed: {why}" for site, why in said.items()]


def _beside(asked: Asked, diary: Diary, by: By) -> dict[str, str]:
    """Where the days before and after are, and the other way to look at them."""
    before = diary.open_day(asked.first, -1)
    after = diary.open_day(asked.last, 1)
    return {
        "previous": asked.href(before), "previous_on": say_date(before), "next": asked.href(after),
        "next_on": say_date(after), "now": asked.href(by.today),
        "other": asked.href(week=not asked.week), "leave": asked.href(moving=""),
    }  # fmt: skip
