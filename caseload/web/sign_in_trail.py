"""Signals of signing in, each a line of the trail; and what follows of a change of what one signs in with: every other
session of that person ends."""

from typing import Any

from allauth.mfa.models import Authenticator
from allauth.usersessions.internal.flows.sessions import end_other_sessions
from django.http import HttpRequest

from caseload.actions import signing
from caseload.models import Staff
from caseload.web import staying
from caseload.web.clock import now
from caseload.web.origin import origin_of


def signed_in(request: HttpRequest, user: Staff, **_: Any) -> None:
    signing.signed_in(user, **_when(request))


def signed_out(request: HttpRequest, user: Staff | None, **_: Any) -> None:
    if user is not None:
        signing.signed_out(user, **_when(request))


def refused(request: HttpRequest | None, credentials: dict[str, Any] | None = None, **_: Any) -> None:
    if request is not None:
        signing.refused((credentials or {}).get("username"), **_when(request))


def factor_refused(request: HttpRequest, user: Staff, **_: Any) -> None:
    signing.refused(user.get_username(), **_when(request))


def password_changed(request: HttpRequest, user: Staff, **_: Any) -> None:
    signing.password_changed(user, **_when(request))


def factor_added(request: HttpRequest, user: Staff, authenticator: Authenticator, **_: Any) -> None:
    signing.second_factor_changed(user, None, authenticator.type, **_when(request))
    if authenticator.type != Authenticator.Type.RECOVERY_CODES:
        request.session[staying.SECOND] = True
        end_other_sessions(request, user)


def factor_removed(request: HttpRequest, user: Staff, authenticator: Authenticator, **_: Any) -> None:
    signing.second_factor_changed(user, authenticator.type, None, **_when(request))
    end_other_sessions(request, user)


def codes_renewed(request: HttpRequest, user: Staff, authenticator: Authenticator, **_: Any) -> None:
    signing.second_factor_changed(user, authenticator.type, authenticator.type, **_when(request))
    end_other_sessions(request, user)


def _when(request: HttpRequest) -> dict[str, Any]:
    return {"at": now(), "origin": origin_of(request)}
