"""People: a lead invites, changes, lets go and takes back, and gives links under which a password is chosen.

Whoever signed in more than five minutes ago gives the password or second factor again before any of these forms.
"""

from collections.abc import Callable
from typing import Any

from allauth.account.decorators import reauthentication_required
from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from caseload.access.people import Presence
from caseload.actions import people
from caseload.actions.act import By, Repeated
from caseload.errors import Refusal
from caseload.models import Staff
from caseload.outreach.sign_in_mail import send_given
from caseload.reads import people as read
from caseload.reads.passwords import needs_second_factor
from caseload.web.clock import by_of
from caseload.web.forms.people import InviteForm, LeaveForm, LinkForm, PersonForm, ResetForm
from caseload.web.set_password import invitation_of
from caseload.web.views.answering import FORM_METHODS, Page, answer, press, refused

SHOWN_ONCE = "This was done before, and its link is shown only once. If it did not arrive, give a new one below."


@require_safe
def show(request: HttpRequest) -> HttpResponse:
    by = by_of(request)
    context = {"people": read.people(), "left_behind": read.left_behind(by.today)}
    return render(request, "people/page.html", context)


@require_safe
def person(request: HttpRequest, code: str) -> HttpResponse:
    by, staff = by_of(request), staff_at(code)
    signing = read.signing_in_of(staff, by.at)
    context = {
        "person": staff, "presence": staff.presence, "signing": signing, "own": staff == by.staff,
        "gone": staff.presence is Presence.GONE, "in_hand": read.in_hand_of(staff, by.today),
        "asked_next": needs_second_factor(staff) and not signing.second_factor,
    }  # fmt: skip
    return render(request, "people/person.html", context)


@reauthentication_required
@require_http_methods(FORM_METHODS)
def invite(request: HttpRequest) -> HttpResponse:
    by = by_of(request)
    form = InviteForm(request.POST or None, today=by.today)
    note = f"They get a link under which they choose a password. It works once, within three days.{_by_hand()}"
    page = Page("Invite somebody", "Invite them", reverse("people"), note=note)
    return _linked(request, by, form, page, lambda by: people.invite(by=by, **form.said()))


@reauthentication_required
@require_http_methods(FORM_METHODS)
def change(request: HttpRequest, code: str) -> HttpResponse:
    by, staff = by_of(request), staff_at(code)
    form = PersonForm(request.POST or None, today=by.today, initial={"version": staff.version, **_said_of(staff)})
    page = Page(
        f"Change {staff}", "Save", to_person(code), note=f"Signs in as {staff.username}.", now=lambda: _now(code)
    )
    return answer(
        request, by, form, page, lambda by: people.change(staff, by=by, **form.said_of()),
        to=lambda _: to_person(code), saved="Saved. What they may do holds from their next page on.",
    )  # fmt: skip


@reauthentication_required
@require_http_methods(FORM_METHODS)
def leave(request: HttpRequest, code: str) -> HttpResponse:
    by, staff = by_of(request), staff_at(code)
    form = LeaveForm(request.POST or None, today=by.today, initial={"version": staff.version})
    page = Page(
        f"{staff} no longer works here", "Close their access", to_person(code), template="people/leave.html",
        now=lambda: _now(code), context={"person": staff, "in_hand": read.in_hand_of(staff, by.today)},
    )  # fmt: skip
    return answer(
        request, by, form, page,
        lambda by: people.change(staff, by=by, version=form.cleaned_data["version"], is_active=False),
        to=lambda _: to_person(code), saved="Their access is closed. They are signed out everywhere.",
    )  # fmt: skip


@require_POST
def take_back(request: HttpRequest, code: str) -> HttpResponse:
    by, staff = by_of(request), staff_at(code)
    return press(
        request, by, lambda by: people.change(staff, by=by, is_active=True), to=to_person(code),
        saved="They work here again. Give them a link, so that they can choose a password.",
    )  # fmt: skip


@reauthentication_required
@require_http_methods(FORM_METHODS)
def reset(request: HttpRequest, code: str) -> HttpResponse:
    by, staff = by_of(request), staff_at(code)
    held = read.signing_in_of(staff, by.at).second_factor
    form = ResetForm(request.POST or None, today=by.today, has_factors=held)
    note = (
        "Their password and every earlier link stop at once, and they are signed out everywhere. "
        f"A new link works once, within three days.{_by_hand()}"
    )
    page = Page(f"A new link for {staff}", "Give a new link", to_person(code), note=note)
    return _linked(
        request, by, form, page, lambda by: people.reset(staff, by=by, factors=form.cleaned_data.get("factors", False))
    )  # fmt: skip


@require_POST
def end_sessions(request: HttpRequest, code: str) -> HttpResponse:
    by, staff = by_of(request), staff_at(code)
    return press(
        request, by, lambda by: people.end_sessions(staff, by=by), to=to_person(code),
        saved="They are signed out everywhere.",
    )  # fmt: skip


def staff_at(code: str) -> Staff:
    return get_object_or_404(Staff, code=code)


def to_person(code: str) -> str:
    return reverse("person", args=[code])


def _linked(request: HttpRequest, by: By, form: LinkForm, page: Page, save: Callable[[By], Staff]) -> HttpResponse:
    """Like `answer`; what was done ends in a link, which goes by e-mail or stands in this answer and nowhere else."""
    if request.method != "POST" or not form.is_valid():
        return answer(request, by, form, page, save, to=to_person, saved="")
    try:
        staff = save(by)
    except Repeated as repeated:
        messages.info(request, SHOWN_ONCE)
        return redirect(to_person(repeated.outcome))
    except Refusal as refusal:
        return refused(request, form, page, refusal)
    return _handed_over(request, staff, here=form.cleaned_data.get("here", True))


def _handed_over(request: HttpRequest, staff: Staff, *, here: bool) -> HttpResponse:
    """Nobody waits for the mail server here: an e-mail that does not arrive is noticed by whoever waits for it."""
    address = request.build_absolute_uri(invitation_of(staff))
    if here or not (settings.MAIL_URL and staff.email):
        return render(request, "people/link.html", {"person": staff, "address": address})
    send_given(staff.email, address, staff.username)
    messages.success(request, f"A link is on its way to {staff.email}. If it does not arrive, give a new one here.")
    return redirect(to_person(staff.code))


def _by_hand() -> str:
    return "" if settings.MAIL_URL else " This planner sends no e-mail: the link is shown next, to be handed over."


def _said_of(staff: Staff) -> dict[str, Any]:
    return {"name": staff.name, "email": staff.email, "roles": sorted(str(role) for role in staff.roles)}


def _now(code: str) -> tuple[int, dict[str, Any]]:
    staff = staff_at(code)
    return staff.version, _said_of(staff)
