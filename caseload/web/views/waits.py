"""How long people wait, those still waiting counted in."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from caseload.reads.rules import sets_to_show
from caseload.reads.waits import figures_of
from caseload.reads.waits_wanted import targets
from caseload.web import waits_apart, waits_page
from caseload.web.clock import by_of
from caseload.web.exports import is_export
from caseload.web.forms.waits import waits_form
from caseload.web.wait_files import figures_file
from caseload.wording.waits_clocks import say_clock, say_counting, say_methods


@require_http_methods(["GET", "HEAD", "POST"])
def show(request: HttpRequest) -> HttpResponse:
    """Nobody is named here, so that looking is not recorded; whoever opens the patients behind a number is."""
    by = by_of(request)
    form = waits_form(request.GET.dict(), staff=by.person, today=by.today)
    asked = form.asked()
    figures = figures_of(asked, by.today)
    if is_export(request):
        return figures_file(request, asked, figures)
    context = {
        "form": form,
        "other_way": waits_page.other_way(form),
        "report": form.href("waits-report"),
        "today": by.today,
        "clock": say_clock(asked.clock, targets()),
        "counting": say_counting(),
        "methods": say_methods(figures.methods),
        "rules": [row for row, _ in sets_to_show() if row.retired_at is None],
    }
    links = waits_page.Links(form)
    told = waits_page.values(figures, links) | waits_apart.values(figures, links)
    return render(request, "waits/page.html", context | told)
