"""The day counts of every rule set, with what they are based on. Read only."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from caseload.reads.rules import sets_to_show


@require_safe
def show(request: HttpRequest) -> HttpResponse:
    return render(request, "rules/page.html", {"sets": sets_to_show()})
