"""Signing in, and the page that a person begins on."""

from typing import Any

from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_safe

from caseload.demo.people import PASSWORD
from caseload.reads.names import demo_sign_ins
from caseload.web.clock import staff_of
from caseload.web.forms.sign_in import SignInForm
from caseload.web.nav import landing


class SignIn(LoginView):
    template_name = "sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(demo_sign_ins=demo_sign_ins(), demo_password=PASSWORD, **kwargs)


@require_safe
def home(request: HttpRequest) -> HttpResponse:
    return redirect(landing(staff_of(request)))
