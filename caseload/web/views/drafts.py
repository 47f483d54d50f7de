"""What somebody typed and does not want any more."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_POST

from caseload.actions import drafts
from caseload.web.clock import staff_of
from caseload.web.going_back import back_of


@require_POST
def throw_away(request: HttpRequest) -> HttpResponse:
    """Forget the draft at `back`, and show that page as it is without."""
    place = back_of(request, reverse("home")).replace("\0", "")
    drafts.forget(staff_of(request), place)
    messages.success(request, "Thrown away. The form is as it is on record.")
    return redirect(place)
