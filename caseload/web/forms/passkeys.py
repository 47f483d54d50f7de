"""Passkeys: what a device signed, as a form sends it."""

from collections.abc import Iterator
from contextlib import contextmanager
from struct import error as Cut
from typing import Any, Final

from allauth.mfa.models import Authenticator
from allauth.mfa.webauthn.forms import (
    AddWebAuthnForm,
    AuthenticateWebAuthnForm,
    LoginWebAuthnForm,
    ReauthenticateWebAuthnForm,
)
from django import forms
from django.core.exceptions import ValidationError

from caseload.web.forms.sign_in import Plain

LONGEST: Final = 16 * 1024
OTHER_SHAPE: Final = (AttributeError, Cut, IndexError, KeyError, TypeError, ValueError)


@contextmanager
def from_outside() -> Iterator[None]:
    """The library takes much of the shape on trust: what has another is no fault of ours, but no passkey."""
    try:
        yield
    except OTHER_SHAPE as fault:
        raise ValidationError("This passkey did not fit.", code="incorrect_code") from fault


class _Signed(Plain):
    def clean_credential(self) -> Authenticator:
        with from_outside():
            return super().clean_credential()  # type: ignore[misc]


class PasskeySignInForm(_Signed, LoginWebAuthnForm):
    pass


class PasskeyInsteadForm(_Signed, AuthenticateWebAuthnForm):
    pass


class PasskeyAgainForm(_Signed, ReauthenticateWebAuthnForm):
    pass


class PasskeyForm(Plain, AddWebAuthnForm):
    """A passkey is always one that can sign in by itself, so the device has to ask for a finger or a number."""

    passwordless = None
    name = forms.CharField(label="What to call it", max_length=60, required=False)

    def clean_credential(self) -> Any:
        """It is kept as it came: no more than a device says, nothing that PostgreSQL cannot hold, and nothing that the
        library would keep without a look, as it does 0."""
        typed = str(self.data.get("credential", ""))
        if len(typed) > LONGEST or "\\u0000" in typed or not isinstance(self.cleaned_data["credential"], dict):
            raise ValidationError("This passkey did not fit.", code="incorrect_code")
        return self.cleaned_data["credential"]

    def clean(self) -> dict[str, Any]:
        self.cleaned_data["passwordless"] = True
        with from_outside():
            return super().clean() or {}
