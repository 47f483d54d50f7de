"""The day counts of every rule set, with what they are based on; who signed which version; two of them side by side."""

from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from caseload.access import Act, may
from caseload.models import RuleSet
from caseload.reads.rule_changes import changes_of, open_under, to_move
from caseload.reads.rules import rules_of, set_named, sets_to_show
from caseload.timetable.versions import side_by_side
from caseload.web.clock import by_of
from caseload.web.forms.record import RecordForm


@require_safe
def show(request: HttpRequest) -> HttpResponse:
    """One set at a time, the one that new episodes are opened under first."""
    by, sets = by_of(request), sets_to_show()
    wanted = request.GET.get("set", "")
    shown = next((pair for pair in sets if str(pair[0]) == wanted), sets[0] if sets else None)
    rows = [row for row, _ in sets]
    names = [row.name for row in rows]
    latest = [row for place, row in enumerate(rows) if row.name not in names[:place]]
    context: dict[str, object] = {"sets": latest, "shown": shown, "can": may(by.roles, Act.RULES_CHANGE)}
    if shown:
        context |= _versions(shown[0], rows) | {"plain": RecordForm(today=by.today)}
    return render(request, "rules/page.html", context)


@require_safe
def compare(request: HttpRequest) -> HttpResponse:
    """Two versions side by side: every number that differs, marked by a word."""
    before, after = (set_named(request.GET.get(name, "")) for name in ("before", "after"))
    if before is None or after is None:
        raise Http404
    lines = side_by_side(rules_of(before), rules_of(after))
    context = {"before": before, "after": after, "lines": [line for line in lines if line.changed], "of": len(lines)}
    return render(request, "rules/compare.html", context)


def _versions(shown: RuleSet, sets: list[RuleSet]) -> dict[str, object]:
    """The versions of the set that is shown, the latest first, with how many open episodes each has."""
    under = open_under(shown)
    rows = sorted((row for row in sets if row.name == shown.name), key=lambda row: row.pk, reverse=True)
    return {
        "versions": [(row, under.get(row.version, 0)) for row in rows],
        "changes": changes_of(shown),
        "to_move": 0 if shown.retired_at else to_move(shown),
    }
