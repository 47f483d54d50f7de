"""The page of a session that nobody used for a while: the same person says so, or somebody else signs in."""

from typing import Any

from allauth.mfa.models import Authenticator
from allauth.mfa.webauthn.internal.auth import begin_authentication
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from caseload.models import Staff
from caseload.web.clock import now, staff_of
from caseload.web.forms.passkeys import PasskeyInsteadForm
from caseload.web.forms.sign_in import OwnPasswordForm
from caseload.web.staying import is_locked, note
from caseload.web.views.sign_in import TOO_MANY, limited


@sensitive_post_parameters("password")
@require_http_methods(["GET", "HEAD", "POST"])
def unlock(request: HttpRequest) -> HttpResponse:
    """With a password or a passkey of the person whose session it is; nothing else of them is asked or shown."""
    staff, at = staff_of(request), now()
    typed: Any = OwnPasswordForm(request.POST or None, user=staff) if "credential" not in request.POST else None
    signed: Any = PasskeyInsteadForm(request.POST or None, user=staff) if typed is None else None
    if request.method == "POST" and (typed or signed).is_valid():
        note(request, at)
        return redirect(_next(request))
    if request.method != "POST" and not is_locked(request, at):
        return redirect(_next(request))
    form, passkey = typed or OwnPasswordForm(user=staff), signed or PasskeyInsteadForm(user=staff)
    status = TOO_MANY if limited(form) or limited(passkey) else 200
    return render(request, "sign_in/unlock.html", _context(request, staff, form, passkey), status=status)


def _context(request: HttpRequest, staff: Staff, form: Any, passkey: Any) -> dict[str, Any]:
    has_passkey = Authenticator.objects.filter(user=staff, type=Authenticator.Type.WEBAUTHN).exists()
    options = {"request_options": begin_authentication(staff)} if has_passkey else None
    return {"form": form, "passkey": passkey, "js_data": options, "next": _next(request), "locked": True}


def _next(request: HttpRequest) -> str:
    place = request.POST.get("next") or request.GET.get("next") or ""
    return place if url_has_allowed_host_and_scheme(place, None) and place.startswith("/") else reverse("home")
