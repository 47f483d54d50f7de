"""What django-allauth is told: our words and rules instead of its own. Nothing of its templates is ever drawn."""

from ipaddress import ip_address
from typing import Any, Final

from allauth.account import app_settings as account
from allauth.account.adapter import DefaultAccountAdapter
from allauth.account.internal.flows.login import get_authentication_records
from allauth.mfa.adapter import DefaultMFAAdapter
from allauth.mfa.models import Authenticator
from django.contrib import messages
from django.contrib.auth import user_login_failed
from django.contrib.auth.base_user import AbstractBaseUser
from django.contrib.auth.models import AnonymousUser
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from caseload.models import Staff
from caseload.parsing.passwords import is_short
from caseload.reads.passwords import FACTORS, needs_second_factor
from caseload.web import staying
from caseload.web.clock import now
from caseload.web.origin import origin_of

WRONG: Final = "This name and password do not belong together. Check both; capitals count in the password."
TOO_OFTEN: Final = "That was tried too often. Wait a quarter of an hour, then try again."
SAID: Final = {
    "account/messages/password_changed.txt": "Your password is changed. Everywhere else you are signed out.",
    "mfa/messages/totp_activated.txt": "Codes from your app are set up. Everywhere else you are signed out.",
    "mfa/messages/totp_deactivated.txt": "Codes from an app are taken away. Everywhere else you are signed out.",
    "mfa/messages/webauthn_added.txt": "The passkey is added. Everywhere else you are signed out.",
    "mfa/messages/webauthn_removed.txt": "The passkey is taken away. Everywhere else you are signed out.",
    "mfa/messages/recovery_codes_generated.txt": "These recovery codes are new. Only they count.",
    "usersessions/messages/sessions_logged_out.txt": "Everywhere else you are signed out.",
}
"""What the library says by the name of a template, in our words; what is not here is not said."""
WAYS: Final = {
    "reauthenticate": "Your password",
    "mfa_reauthenticate": "A code from your app, or a recovery code",
    "mfa_reauthenticate:webauthn": "A passkey",
}


class SignInAdapter(DefaultAccountAdapter):
    error_messages = DefaultAccountAdapter.error_messages | {
        "too_many_login_attempts": TOO_OFTEN,
        "rate_limited": TOO_OFTEN,
    }

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False

    def add_message(
        self, request: HttpRequest, level: int, message_template: str | None = None, *args: Any, **kwargs: Any
    ) -> None:
        if text := kwargs.get("message") or SAID.get(message_template or "", ""):
            messages.add_message(request, level, text)

    def respond_user_inactive(self, request: HttpRequest, user: AbstractBaseUser) -> HttpResponse:
        """The same as for a wrong password, and as such on the trail."""
        user_login_failed.send(sender=type(self), credentials={"username": user.get_username()}, request=request)
        messages.error(request, WRONG)
        return redirect("sign-in")

    def post_login(self, request: HttpRequest, user: AbstractBaseUser, **kwargs: Any) -> HttpResponse:
        staying.begin(request, now())
        return super().post_login(request, user, **kwargs)

    def set_password(self, user: AbstractBaseUser, password: str) -> None:
        assert isinstance(user, Staff)
        user.short_password = is_short(password)
        super().set_password(user, password)

    def get_client_ip(self, request: HttpRequest) -> str:
        """The address that limits count by; one that is none counts as one with all others that are none."""
        try:
            return str(ip_address(origin_of(request)))
        except ValueError:
            return "0.0.0.0"

    def get_reauthentication_methods(self, user: AbstractBaseUser | AnonymousUser) -> list[dict]:
        return [way | {"description": WAYS[way["id"]]} for way in super().get_reauthentication_methods(user)]

    def is_reauthentication_required(self, *, app: str, **kwargs: Any) -> bool:
        """Not of whoever has just signed in."""
        records = get_authentication_records(self.request, self.request.user)
        last = max((record["at"] for record in records), default=0)
        return now().timestamp() - last >= account.REAUTHENTICATION_TIMEOUT


class FactorAdapter(DefaultMFAAdapter):
    error_messages = DefaultMFAAdapter.error_messages | {
        "incorrect_code": "This does not fit. A code holds for half a minute and once only: wait for the next one.",
        "cannot_delete_authenticator": "This is your last second factor, and it has to stay.",
        "cannot_generate_recovery_codes": "Recovery codes stand in for a second factor. Set one up first.",
    }

    def get_totp_label(self, user: AbstractBaseUser) -> str:
        return user.get_username()

    def can_delete_authenticator(self, authenticator: Authenticator) -> bool:
        """The last one stays where it is demanded."""
        others = Authenticator.objects.filter(user=authenticator.user_id, type__in=FACTORS).exclude(pk=authenticator.pk)
        return not needs_second_factor(authenticator.user) or others.exists()

    def generate_authenticator_name(self, user: AbstractBaseUser, type: Authenticator.Type) -> str:
        held = Authenticator.objects.filter(user_id=user.pk, type=type).count()
        return f"Passkey {held + 1}"

    def get_public_key_credential_user_entity(self, user: AbstractBaseUser) -> dict:
        """The library's handle, our names: an e-mail address proves nothing here."""
        said = {"display_name": str(user), "name": user.get_username()}
        return super().get_public_key_credential_user_entity(user) | said

    def get_public_key_credential_rp_entity(self) -> dict[str, str]:
        return super().get_public_key_credential_rp_entity() | {"name": self.get_totp_issuer()}
