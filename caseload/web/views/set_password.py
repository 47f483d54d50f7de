"""A password that was forgotten, or that was never there: a link by e-mail, and the page under it."""

from typing import Any

from allauth.account.signals import password_reset
from allauth.core import ratelimit
from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import login_not_required
from django.contrib.auth.views import PasswordResetConfirmView
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import render
from django.urls import reverse_lazy
from django.views.decorators.http import require_http_methods

from caseload.models import Staff
from caseload.outreach.sign_in_mail import send_link
from caseload.reads.names import holds_demo
from caseload.web.forms.sign_in import ForgottenForm, NewPasswordForm
from caseload.web.set_password import EveryToken, link_to_set_password


@login_not_required
@require_http_methods(["GET", "HEAD", "POST"])
def forgotten(request: HttpRequest) -> HttpResponseBase:
    """The same answer whether there is such a person or not, whether they have an e-mail address or not."""
    form = ForgottenForm(request.POST or None)
    sent = bool(settings.MAIL_URL) and request.method == "POST" and form.is_valid()
    if sent:
        name = form.cleaned_data["username"].strip()
        if over := ratelimit.consume_or_429(request, action="reset_password", key=name.casefold()):
            return over
        person = Staff.objects.filter(username__iexact=name, is_active=True).exclude(email="").first()
        if person:
            send_link(person.email, request.build_absolute_uri(link_to_set_password(person)))
    said = {"form": form, "sent": sent, "mailed": bool(settings.MAIL_URL), "demo": holds_demo()}
    return render(request, "sign_in/forgotten.html", said)


class SetPassword(PasswordResetConfirmView):
    """The token goes into the session at once, so that it stands in no address that another page could be told."""

    template_name = "sign_in/set_password.html"
    form_class = NewPasswordForm  # type: ignore[assignment]
    token_generator = EveryToken()
    success_url = reverse_lazy("sign-in")

    def get_user(self, uidb64: str) -> Staff | None:
        return Staff.objects.filter(code=uidb64, is_active=True).first()

    def form_valid(self, form: Any) -> HttpResponse:
        answer = super().form_valid(form)
        password_reset.send(sender=Staff, request=self.request, user=self.user)
        messages.success(self.request, "The password is set. Sign in with it.")
        return answer

    def render_to_response(self, context: dict[str, Any], **kwargs: Any) -> HttpResponse:
        return super().render_to_response(
            context | {"demo": holds_demo()}, status=200 if self.validlink else 410, **kwargs
        )
