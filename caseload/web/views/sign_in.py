"""Signing in and out, and the page that a person begins on."""

from typing import Any, Final

from allauth.account.views import LoginView
from allauth.mfa.base.views import AuthenticateView
from allauth.mfa.webauthn.views import LoginWebAuthnView
from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from caseload.demo.people import PASSWORD, SIGN_INS
from caseload.reads.names import demo_sign_ins
from caseload.web.clock import staff_of
from caseload.web.forms.passkeys import PasskeyInsteadForm, PasskeySignInForm
from caseload.web.forms.sign_in import CodeForm, SignInForm
from caseload.web.nav import landing
from caseload.web.sign_in_trail import refused

TOO_MANY: Final = 429
TOO_OFTEN: Final = "too_many_login_attempts"


def once_more(view: Any, form: Any) -> HttpResponse:
    """The page with what was wrong, or that it was tried too often."""
    return view.render_to_response(view.get_context_data(form=form), status=TOO_MANY if limited(form) else 200)


class SignIn(LoginView):
    template_name = "sign_in/page.html"
    form_class = SignInForm

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        said = {
            "demo_sign_ins": demo_sign_ins(each.username for each in SIGN_INS),
            "demo_password": PASSWORD,
            "mailed": bool(settings.MAIL_URL),
        }
        return super().get_context_data(**kwargs) | said

    def form_invalid(self, form: Any) -> HttpResponse:
        form.lead_to_remedy()
        return once_more(self, form)


class SecondFactor(AuthenticateView):
    """After the password: a code, a recovery code or a passkey."""

    template_name = "sign_in/second_factor.html"
    form_class = CodeForm
    webauthn_form_class = PasskeyInsteadForm

    def form_invalid(self, form: Any) -> HttpResponse:
        return self.render_to_response(self.get_context_data(), status=TOO_MANY if limited(form) else 200)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        person = self.stage.login.user
        return super().get_context_data(**kwargs) | {
            "person": person,
            "demo": person.demo,
            "wrong": _wrong(self.webauthn_form),
        }


class SignInByPasskey(LoginWebAuthnView):
    """Asked by a script what to sign, and sent what the device signed; anything else leads to signing in."""

    form_class = PasskeySignInForm

    def form_invalid(self, form: Any) -> HttpResponse:
        refused(self.request)
        messages.error(self.request, "This passkey is not known here. Sign in with your name and password.")
        return redirect("sign-in")


def limited(form: Any) -> bool:
    return any(error.code == TOO_OFTEN for errors in form.errors.as_data().values() for error in errors)


def _wrong(form: Any) -> list[str]:
    return [error for errors in form.errors.values() for error in errors] if form.is_bound else []


@login_not_required
def too_often(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    return render(request, "errors/429.html", status=TOO_MANY)


@require_safe
def home(request: HttpRequest) -> HttpResponse:
    return redirect(landing(staff_of(request)))
