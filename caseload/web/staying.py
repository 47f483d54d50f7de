"""How long somebody stays signed in: locked after a while without a request, over after twelve hours, and led to a
second factor first where one is demanded.

Locked is no state of its own: a session is locked while its last request lies further back than
`settings.IDLE_MINUTES`. So it holds without any script, and nothing has to run at the right moment.
"""

from datetime import datetime, timedelta
from typing import Any, Final
from urllib.parse import urlencode, urlsplit

from allauth.account.internal.flows.login import get_authentication_records
from allauth.usersessions.models import UserSession
from django.conf import settings
from django.contrib import messages
from django.contrib.auth import logout
from django.contrib.sessions.backends.base import UpdateError
from django.contrib.sessions.exceptions import SessionInterrupted
from django.db import DatabaseError, InterfaceError, transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme

from caseload.actions.turns import in_turn
from caseload.reads.passwords import has_second_factor, needs_second_factor
from caseload.web import drafts, typed_again
from caseload.web.clock import now, staff_of

SEEN: Final = "seen"
"""When the session was last used, in seconds since 1970."""
SECOND: Final = "second"
"""Whether a second factor was shown in this session."""
NOTED: Final = 30
"""Seconds within which a further request is not noted: a page is no write. So a lock may come so much early."""
BY_ITSELF: Final = "by-itself"
"""In the query of an address that a page asks for without anybody: such a request keeps nobody signed in."""
WHILE_LOCKED: Final = frozenset({"unlock", "sign-out", "account_logout"})
SETTING_UP: Final = WHILE_LOCKED | {
    "second-factor", "mfa_activate_totp", "mfa_add_webauthn", "mfa_view_recovery_codes", "account_reauthenticate",
}  # fmt: skip


def begin(request: HttpRequest, at: datetime) -> None:
    """Somebody has just signed in."""
    request.session[SEEN] = at.timestamp()
    records = get_authentication_records(request, request.user)
    request.session[SECOND] = any(record["method"] == "mfa" for record in records)
    request.session.set_expiry(at + timedelta(seconds=settings.SESSION_COOKIE_AGE))


def is_locked(request: HttpRequest, at: datetime) -> bool:
    seen: float | None = request.session.get(SEEN)
    return seen is not None and at.timestamp() - seen > settings.IDLE_MINUTES * 60


def note(request: HttpRequest, at: datetime) -> None:
    """The session is in use. A database that cannot be written just now costs nobody a page."""
    if at.timestamp() - request.session.get(SEEN, 0) < NOTED:
        return
    request.session[SEEN] = at.timestamp()
    try:
        with in_turn(), transaction.atomic():
            request.session.save()
            UserSession.objects.filter(session_key=request.session.session_key).update(last_seen_at=at)
    except UpdateError as ended:
        raise SessionInterrupted("It was ended from elsewhere meanwhile.") from ended
    except (DatabaseError, InterfaceError):
        pass
    request.session.modified = False


class Stays:
    """Middleware, after the person is known and before anything else is asked of them."""

    def __init__(self, answer: drafts.View) -> None:
        self.answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.answer(request)

    def process_view(self, request: HttpRequest, *_: Any) -> HttpResponse | None:
        if not request.user.is_authenticated:
            return None
        at, match = now(), request.resolver_match
        name = match.url_name if match else ""
        if is_locked(request, at):
            return None if name in WHILE_LOCKED else _locked(request)
        if BY_ITSELF not in request.GET:
            note(request, at)
        typed_again.bring_back(request)
        if name in SETTING_UP or request.session.get(SECOND) or not needs_second_factor(staff_of(request)):
            return None
        return _without_second_factor(request)


def _locked(request: HttpRequest) -> HttpResponse:
    """Ask for the password, then go on where one was; a form that can be kept stands there again."""
    place = request.get_full_path()
    if request.method == "POST":
        kept = drafts.kept_for_later(request) or typed_again.keep(request)
        said = "It is kept and stands there again" if kept else "It was not carried out: do it again"
        place = place if kept else came_from(request)
        if not drafts.is_live(request):
            messages.warning(request, f"The screen was locked when you sent this. {said} once you are back.")
    if drafts.is_live(request) or request.headers.get("Sec-Fetch-Mode", "navigate") != "navigate":
        return HttpResponse(status=401)
    return redirect(f"{reverse('unlock')}?{urlencode({'next': place})}")


def came_from(request: HttpRequest) -> str:
    """The page of ours that a form was sent from; the first page where it is not known."""
    referer = request.headers.get("Referer", "")
    if not url_has_allowed_host_and_scheme(referer, {request.get_host()}, request.is_secure()):
        return reverse("home")
    return urlsplit(referer)._replace(scheme="", netloc="", fragment="").geturl()


def _without_second_factor(request: HttpRequest) -> HttpResponse:
    if not has_second_factor(staff_of(request)):
        return redirect("second-factor")
    logout(request)
    messages.warning(request, "Your role needs a second factor now. Sign in again, with it.")
    return redirect("sign-in")
