"""A refusal that no form took is a page: who may not is told so; anything else cannot be done as things stand."""

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from caseload.actions.yours import NOT_YOURS
from caseload.errors import Refusal
from caseload.models import Patient
from caseload.web.views.reason import ask_why

NOT_ALLOWED = "not-allowed"
MALFORMED = frozenset({"key-unreadable", "unknown-file-kind"})

Answer = Callable[[HttpRequest], HttpResponse]


class RefusalPages:
    """Middleware. A view turns what a form can mend into errors of that form; this answers the rest."""

    def __init__(self, answer: Answer) -> None:
        self.answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.answer(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        return refusal_page(request, exception) if isinstance(exception, Refusal) else None


def refusal_page(request: HttpRequest, refusal: Refusal) -> HttpResponse:
    """403, 400 or 409 with the sentence of the refusal; the question for a reason about a colleague's patient."""
    if refusal.code == NOT_YOURS:
        return ask_why(request, Patient.objects.get(pk=int(str(refusal.details["patient"]))))
    status = 403 if refusal.code == NOT_ALLOWED else 400 if refusal.code in MALFORMED else 409
    return render(request, f"errors/{status}.html", {"message": refusal.message}, status=status)
