"""How a page with a form answers: show it, show what it would change, carry it out, or say what is in the way."""

from collections.abc import Callable, Collection
from dataclasses import dataclass, field
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from caseload.access import Act, demand
from caseload.actions.act import By, Repeated, carried_out
from caseload.actions.looks import looked
from caseload.actions.rehearsal import rehearse
from caseload.actions.yours import NOT_YOURS
from caseload.errors import Refusal
from caseload.models import Episode
from caseload.web.clock import by_of
from caseload.web.forms.record import RecordForm, differences
from caseload.wording import say_move
from caseload.wording.appointments import NOTHING_TICKED

CONFLICT = "changed-meanwhile"
FORM_METHODS = ["GET", "HEAD", "POST"]


@dataclass
class Page:
    """A page with one form. `note` says what it is about; `back` is where Cancel leads; `preview` is the episode whose
    dates the form may move.

    `caution` is the template of what a person should see before saving; `cautions` shows those that stand wherever
    something can hurt somebody. `now` gives, after a conflict, the version
    that is stored and its values by field.
    """

    title: str
    button: str
    back: str
    note: str = ""
    preview: Episode | None = None
    now: Callable[[], tuple[int, dict[str, Any]]] | None = None
    template: str = "forms/page.html"
    caution: str = ""
    cautions: bool = False
    context: dict[str, Any] = field(default_factory=dict)


def allow(request: HttpRequest, act: Act) -> By:
    """Who acts and when, where the address leaves open which act it is. Raises Refusal `not-allowed`."""
    by = by_of(request)
    demand(by.roles, act)
    return by


def answer(
    request: HttpRequest,
    by: By,
    form: RecordForm,
    page: Page,
    save: Callable[[By], Any],
    *,
    to: Callable[[str], str],
    saved: str,
) -> HttpResponse:
    """Carry out a valid form and go to the address that `to` gives for the code of what it made; else show it again."""
    if request.method == "GET" and page.context.get("patient"):
        looked(page.context["patient"], by=by, route=route_of(request))
    if request.method != "POST":
        return shown(request, form, page)
    if not form.is_valid():
        before = carried_out(by)
        return redirect(to(before)) if before is not None else shown(request, form, page, status=422)
    try:
        if "preview" in request.POST and page.preview:
            moves = _moves(page.preview, save, by)
            return shown(request, form, as_stored(page), moves=moves)
        made = save(by)
    except Repeated as repeated:
        return redirect(to(repeated.outcome))
    except Refusal as refusal:
        return refused(request, form, as_stored(page), refusal)
    messages.success(request, saved)
    return redirect(to(getattr(made, "code", "")))


def route_of(request: HttpRequest) -> str:
    return (request.resolver_match and request.resolver_match.url_name) or ""


def warn_of_nothing(request: HttpRequest, ticked: Collection[object]) -> None:
    """Say so where a button was pressed for those ticked, and none was."""
    if not ticked:
        messages.warning(request, NOTHING_TICKED)


def press(request: HttpRequest, by: By, do: Callable[[By], Any], *, to: str, saved: str) -> HttpResponse:
    """Carry out an act that has nothing to fill in, and go back to where its button is."""
    try:
        do(by)
    except Repeated:
        return redirect(to)
    except Refusal as refusal:
        if refusal.code == NOT_YOURS:
            raise
        messages.error(request, refusal.message)
    else:
        messages.success(request, saved)
    return redirect(to)


def refused(request: HttpRequest, form: RecordForm, page: Page, refusal: Refusal) -> HttpResponse:
    """Show the form again with everything that was typed, and the refusal where it belongs. Whose patient it is not
    is told on the page that asks for a reason."""
    if refusal.code == NOT_YOURS:
        raise refusal
    if refusal.code == CONFLICT and page.now:
        version, stored = page.now()
        form.take_version(version)
        return shown(request, form, page, status=409, conflict=refusal.message, differences=differences(form, stored))
    form.refuse(refusal)
    return shown(request, form, page, status=422, look_alikes=refusal.details.get("alike"))


def as_stored(page: Page) -> Page:
    """An act that was undone or refused has changed the rows in memory: the page shows what is stored."""
    for name in ("patient", "episode"):
        row = page.context.get(name)
        if row is not None:
            row.refresh_from_db()
    return page


def shown(request: HttpRequest, form: RecordForm, page: Page, *, status: int = 200, **context: Any) -> HttpResponse:
    return render(request, page.template, {"form": form, "page": page, **page.context, **context}, status=status)


def _moves(episode: Episode, save: Callable[[By], Any], by: By) -> list[str]:
    """What saving would move, in sentences. The key of the form is not used up by it."""
    moved = rehearse(episode, lambda: save(by.unkeyed), today=by.today)
    return [say_move(move) for move in moved]
