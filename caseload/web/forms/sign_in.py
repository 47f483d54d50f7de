"""Signing in, and what one signs in with. Passwords are taken as they are typed: never cut, never tidied."""

from typing import Any

from allauth.account.adapter import get_adapter
from allauth.account.internal.flows.login import perform_password_login
from allauth.account.models import Login
from allauth.mfa.base.forms import AuthenticateForm, ReauthenticateForm
from allauth.mfa.totp.forms import ActivateTOTPForm
from django import forms
from django.contrib.auth.password_validation import password_validators_help_texts
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse

from caseload.models import Staff
from caseload.parsing.passwords import LONGEST
from caseload.web.adapters import WRONG
from caseload.web.forms.fields import NEEDED

USERNAME = Staff._meta.get_field("username").max_length


class Plain(forms.BaseForm):
    """A form whose labels end without a colon."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("label_suffix", "")
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            field.error_messages["required"] = NEEDED


class PasswordField(forms.CharField):
    def __init__(self, label: str, fill: str, **kwargs: Any) -> None:
        widget = forms.PasswordInput(attrs={"autocomplete": fill, "size": 30})
        super().__init__(label=label, strip=False, max_length=LONGEST, widget=widget, **kwargs)


class SignInForm(Plain, forms.Form):
    user: Staff | None = None
    username = forms.CharField(
        label="Name",
        max_length=USERNAME,
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none", "autofocus": True}),
    )
    password = PasswordField("Password", "current-password")

    def __init__(self, *args: Any, request: HttpRequest, **kwargs: Any) -> None:
        self.request = request
        super().__init__(*args, **kwargs)

    def clean(self) -> dict[str, Any]:
        if self.errors:
            return self.cleaned_data
        self.user = get_adapter().authenticate(self.request, **self.cleaned_data)
        if self.user is None:
            raise ValidationError(WRONG, code="wrong")
        return self.cleaned_data

    def lead_to_remedy(self) -> None:
        """The next key goes where something is missing, else into the password: it has to be typed again in any case.

        What was wrong is read out with it. Nothing hangs on whether there is such a name.
        """
        name, password = (self.fields[field].widget.attrs for field in ("username", "password"))
        if "username" not in self.errors:
            del name["autofocus"]
            password |= {"autofocus": True, "aria-describedby": "errors"}

    def login(self, request: HttpRequest, redirect_url: str | None = None) -> HttpResponse:
        return perform_password_login(request, {}, Login(user=self.user, redirect_url=redirect_url))


class OwnPasswordForm(Plain, forms.Form):
    """The password of the person who is signed in, asked for again."""

    password = PasswordField("Your password", "current-password")

    def __init__(self, *args: Any, user: Staff, **kwargs: Any) -> None:
        self.user = user
        super().__init__(*args, **kwargs)
        self.fields["password"].widget.attrs["autofocus"] = True

    def clean_password(self) -> str:
        return _own(self.user, self.cleaned_data["password"])


class NewPasswordForm(Plain, forms.Form):
    """Chosen under a link, in place of one that was forgotten or never there."""

    new = PasswordField("New password", "new-password")
    again = PasswordField("The same again", "new-password")

    def __init__(self, user: Staff, *args: Any, **kwargs: Any) -> None:
        self.user = user
        super().__init__(*args, **kwargs)
        self.fields["new"].help_text = " ".join(password_validators_help_texts())

    def clean_new(self) -> str:
        password: str = get_adapter().clean_password(self.cleaned_data["new"], self.user)
        return password

    def clean(self) -> dict[str, Any]:
        new, again = self.cleaned_data.get("new"), self.cleaned_data.get("again")
        if new and again and new != again:
            self.add_error("again", "The two differ. Type the same in both.")
        return self.cleaned_data

    def save(self) -> Staff:
        get_adapter().set_password(self.user, self.cleaned_data["new"])
        return self.user


class ChangePasswordForm(NewPasswordForm):
    old = PasswordField("Your password now", "current-password")
    field_order = ("old", "new", "again")

    def __init__(self, *args: Any, user: Staff, **kwargs: Any) -> None:
        super().__init__(user, *args, **kwargs)

    def clean_old(self) -> str:
        return _own(self.user, self.cleaned_data["old"])


def _own(user: Staff, typed: str) -> str:
    if not get_adapter().reauthenticate(user, typed):
        raise ValidationError("This is not your password. Capitals count.")
    return typed


class CodeField(forms.CharField):
    """A code of an app, or a recovery code in its place."""

    def __init__(self) -> None:
        said = {"autocomplete": "one-time-code", "inputmode": "numeric", "autofocus": True}
        super().__init__(label="Code", max_length=40, widget=forms.TextInput(attrs=said))


class CodeForm(Plain, AuthenticateForm):
    code = CodeField()


class CodeAgainForm(Plain, ReauthenticateForm):
    code = CodeField()


class FirstCodeForm(Plain, ActivateTOTPForm):
    code = CodeField()


class ForgottenForm(Plain, forms.Form):
    username = forms.CharField(
        label="Name you sign in with",
        max_length=USERNAME,
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none", "autofocus": True}),
    )
