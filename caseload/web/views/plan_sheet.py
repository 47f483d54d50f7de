"""The plan sheet of an episode: the page to read through and print, and the button that makes a file of it."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import get_language
from django.views.decorators.http import require_POST, require_safe

from caseload.actions import sheets
from caseload.actions.act import Repeated
from caseload.actions.looks import looked
from caseload.errors import Refusal
from caseload.outreach import pdf
from caseload.outreach.minding import mind
from caseload.outreach.plan_sheet import plan_sheet
from caseload.reads.particulars import warnings_of
from caseload.web.clock import by_of
from caseload.web.views.answering import route_of
from caseload.web.views.found import episode_at, named


@require_safe
def show(request: HttpRequest, code: str) -> HttpResponse:
    """The sheet as it is printed; what staff should mind stands above it, on the screen only."""
    by, episode = by_of(request), episode_at(code)
    sheet = plan_sheet(episode, today=by.today)
    looked(episode.patient, by=by, route=route_of(request))
    context = named(episode.patient, by, episode)
    minded = [*mind(episode, sheet, today=by.today), *context["warnings"], *warnings_of(episode, sheet.marks)]
    context |= {
        "sheet": sheet,
        "language": get_language(),
        "minded": minded,
        "pdf": pdf.available(),
    }
    return render(request, "plan_sheet/page.html", context)


@require_POST
def make_file(request: HttpRequest, code: str) -> HttpResponse:
    """Ask for the sheet as a file; the page of the job says when it is there."""
    by, episode = by_of(request), episode_at(code)
    if not pdf.available():
        raise Refusal("no-pdf", "This installation makes no PDF files. Print the page from the browser instead.")
    try:
        made = sheets.ask(episode, language=get_language() or "", by=by).code
    except Repeated as repeated:
        made = repeated.outcome
    return redirect("job", made)
