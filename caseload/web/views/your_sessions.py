"""Where one is signed in, and signing out elsewhere."""

from collections.abc import Sequence

from allauth.usersessions.internal.flows.sessions import end_sessions
from allauth.usersessions.models import UserSession
from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from caseload.actions import signing
from caseload.web.clock import now, staff_of
from caseload.web.origin import origin_of


@require_http_methods(["GET", "HEAD", "POST"])
def show(request: HttpRequest) -> HttpResponse:
    """A form ends the session whose key it names, or with `all` every one but this."""
    found = sessions_of(request)
    if request.method != "POST":
        return render(request, "sign_in/sessions.html", {"sessions": found})
    named = request.POST.get("session", "")
    others = [each for each in found if not each.is_current()]
    chosen = others if "all" in request.POST else [each for each in others if str(each.pk) == named]
    end(request, chosen)
    messages.success(request, f"Signed out there: {len(chosen)}." if chosen else "There was nothing to end any more.")
    return redirect("usersessions_list")


def sessions_of(request: HttpRequest) -> list[UserSession]:
    """The latest first; one that is over is forgotten."""
    found = UserSession.objects.purge_and_list(staff_of(request))
    return sorted(found, key=lambda each: (each.last_seen_at, each.pk), reverse=True)


def end(request: HttpRequest, chosen: Sequence[UserSession]) -> None:
    if chosen:
        end_sessions(request, chosen)
        signing.sessions_ended(staff_of(request), [each.ip for each in chosen], at=now(), origin=origin_of(request))
