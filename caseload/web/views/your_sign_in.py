"""What one signs in with, on one page, and each change of it. The library asks for the password again first."""

from typing import Any

from allauth.account.views import PasswordChangeView, PasswordSetView, ReauthenticateView
from allauth.mfa.base.views import ReauthenticateView as CodeAgainView
from allauth.mfa.models import Authenticator
from allauth.mfa.recovery_codes.views import GenerateRecoveryCodesView, ViewRecoveryCodesView
from allauth.mfa.totp.views import ActivateTOTPView, DeactivateTOTPView
from allauth.mfa.webauthn.internal.auth import begin_registration
from allauth.mfa.webauthn.views import AddWebAuthnView, ReauthenticateWebAuthnView, RemoveWebAuthnView
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse_lazy
from django.views.decorators.http import require_safe

from caseload.models import Staff
from caseload.reads.passwords import has_second_factor, needs_second_factor
from caseload.web.adapters import FactorAdapter
from caseload.web.clock import staff_of
from caseload.web.forms.passkeys import PasskeyAgainForm, PasskeyForm
from caseload.web.forms.sign_in import (
    ChangePasswordForm,
    CodeAgainForm,
    FirstCodeForm,
    NewPasswordForm,
    OwnPasswordForm,
)
from caseload.web.qr import qr
from caseload.web.views.sign_in import once_more
from caseload.web.views.your_sessions import sessions_of

HERE = reverse_lazy("mfa_index")


@require_safe
def show(request: HttpRequest) -> HttpResponse:
    staff = staff_of(request)
    held = list(Authenticator.objects.filter(user=staff).order_by("created_at", "pk"))
    context = {
        "app": _first(held, Authenticator.Type.TOTP), "codes": _first(held, Authenticator.Type.RECOVERY_CODES),
        "passkeys": [each for each in held if each.type == Authenticator.Type.WEBAUTHN],
        "needed": needs_second_factor(staff), "sessions": len(sessions_of(request)),
    }  # fmt: skip
    return render(request, "sign_in/yours.html", context)


def _first(held: list[Authenticator], kind: str) -> Authenticator | None:
    return next((each for each in held if each.type == kind), None)


@require_safe
def choose(request: HttpRequest) -> HttpResponse:
    """Where somebody is led whose role needs a second factor and who has none."""
    if has_second_factor(staff_of(request)):
        return redirect("mfa_index")
    return render(request, "sign_in/choose.html")


class Again(ReauthenticateView):
    """The password once more, before what one signs in with is changed."""

    template_name = "sign_in/again.html"
    form_class = OwnPasswordForm

    form_invalid = once_more


class AgainByCode(CodeAgainView):
    template_name = "sign_in/again.html"
    form_class = CodeAgainForm

    form_invalid = once_more


class AgainByPasskey(ReauthenticateWebAuthnView):
    template_name = "sign_in/again_passkey.html"
    form_class = PasskeyAgainForm

    def form_invalid(self, form: Any) -> HttpResponse:
        messages.error(self.request, "That passkey did not fit.")
        return redirect(self.request.get_full_path())


class ChangePassword(PasswordChangeView):
    template_name = "sign_in/change_password.html"
    form_class = ChangePasswordForm
    success_url = HERE

    def get_default_success_url(self) -> str:
        return str(HERE)


class FirstPassword(PasswordSetView):
    """For whoever came in by a passkey and has no password."""

    template_name = "sign_in/change_password.html"
    form_class = NewPasswordForm
    success_url = HERE


class AddApp(ActivateTOTPView):
    template_name = "sign_in/app_add.html"
    form_class = FirstCodeForm

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        form = kwargs.get("form") or self.get_form()
        address = FactorAdapter().build_totp_url(self.request.user, form.secret)
        secret = [form.secret[at : at + 4] for at in range(0, len(form.secret), 4)]
        return {"form": form, "view": self, "qr": qr(address), "secret": secret, "address": address}


class RemoveApp(DeactivateTOTPView):
    template_name = "sign_in/factor_remove.html"
    success_url = HERE

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(**kwargs) | removing(self.authenticator)


class AddPasskey(AddWebAuthnView):
    template_name = "sign_in/passkey_add.html"
    form_class = PasskeyForm

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        form = kwargs.get("form") or self.get_form()
        return {
            "form": form,
            "view": self,
            "js_data": {"creation_options": begin_registration(self.request.user, True)},
        }


class RemovePasskey(RemoveWebAuthnView):
    template_name = "sign_in/factor_remove.html"
    success_url = HERE

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(**kwargs) | removing(self.object)

    def form_valid(self, form: Any) -> HttpResponse:
        if not FactorAdapter().can_delete_authenticator(self.object):
            return self.render_to_response(self.get_context_data(), status=409)
        return super().form_valid(form)


def removing(factor: Authenticator) -> dict[str, Any]:
    """What the page asks that takes a second factor away: why it cannot, or what would go."""
    staff: Staff = factor.user
    return {"factor": factor, "stays": not FactorAdapter().can_delete_authenticator(factor), "staff": staff}


class RecoveryCodes(ViewRecoveryCodesView):
    template_name = "sign_in/recovery_codes.html"

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        if not Authenticator.objects.filter(user=request.user, type=Authenticator.Type.RECOVERY_CODES).exists():
            return redirect(HERE)
        return super().get(request, *args, **kwargs)


class NewRecoveryCodes(GenerateRecoveryCodesView):
    template_name = "sign_in/recovery_codes_new.html"
