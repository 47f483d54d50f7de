"""The day counts of every rule set, with what they are based on. Read only."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from caseload.reads.rules import sets_to_show


@require_safe
def show(request: HttpRequest) -> HttpResponse:
    """One set at a time, the one that new episodes are opened under first."""
    sets = sets_to_show()
    wanted = request.GET.get("set", "")
    shown = next((pair for pair in sets if str(pair[0]) == wanted), sets[0] if sets else None)
    return render(request, "rules/page.html", {"sets": [row for row, _ in sets], "shown": shown})
