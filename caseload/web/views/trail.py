"""The trail: who did or looked at what, when, from where and why. Whoever reads it is in it."""

from itertools import islice
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from caseload.actions import trail_files
from caseload.actions.act import By, Repeated
from caseload.actions.looks import exported, listed, looked
from caseload.errors import Refusal
from caseload.reads.trail import all_rows, asked_of, count, page, read_place, sealed
from caseload.reads.trail_file import MEDIA, written
from caseload.web.clock import by_of
from caseload.web.forms.trail import TrailFilters
from caseload.web.list_files import AT_ONCE
from caseload.web.views.answering import press

NAME = "trail"


@require_http_methods(["GET", "HEAD", "POST"])
def show(request: HttpRequest) -> HttpResponse:
    by = by_of(request)
    form = TrailFilters(request.GET.dict(), today=by.today)
    if request.method == "POST":
        return _as_file(request, form, by)
    lines, ended = page(asked_of(form.query), read_place(request.GET.get("before", "")))
    if form.patient:
        looked(form.patient, by=by, route=NAME)
    else:
        listed(by=by, route=NAME, rows=len(lines))
    context = {
        "filters": form, "lines": lines, "sealed": sealed(), "newest": f"?{urlencode(form.query)}",
        "older": f"?{urlencode(form.query | {'before': str(ended)})}" if ended else "",
        "first": "before" not in request.GET,
    }  # fmt: skip
    return render(request, "trail/page.html", context)


@require_POST
def check(request: HttpRequest) -> HttpResponse:
    """Ask for the seals to be checked now."""
    by = by_of(request)
    return press(
        request, by, lambda by: trail_files.check(by=by), to=reverse(NAME), saved="The seals are being checked."
    )


def _as_file(request: HttpRequest, form: TrailFilters, by: By) -> HttpResponse:
    """At once, or as a job where there are many. Raises Refusal `unknown-file-kind`, `too-many-rows`."""
    kind = request.POST.get("kind", "")
    if kind not in MEDIA:
        raise Refusal("unknown-file-kind", "The trail can be had as CSV or as JSON.")
    asked = asked_of(form.query, by_then=by.at)
    rows = count(asked, trail_files.MOST + 1)
    if rows > trail_files.MOST:
        raise Refusal("too-many-rows", f"These are more than {trail_files.MOST:,} rows. Ask for fewer days.")
    if rows > AT_ONCE:
        return _as_job(form, by, rows, kind)
    content = written(kind, islice(all_rows(asked), rows), trail_files.SERVICE, first=True)
    exported(by=by, route=trail_files.FILE, rows=rows)
    response = HttpResponse(content, content_type=MEDIA[kind])
    name = f"trail-{by.today.isoformat()}.{'ndjson' if kind == 'json' else kind}"
    response.headers["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def _as_job(form: TrailFilters, by: By, rows: int, kind: str) -> HttpResponse:
    try:
        return redirect("job", trail_files.ask(by=by, rows=rows, kind=kind, query=form.query).code)
    except Repeated as repeated:
        return redirect("job", repeated.outcome)
