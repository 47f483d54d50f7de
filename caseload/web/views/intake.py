"""Theatre lists: uploaded, looked at row by row, answered, taken in."""

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from caseload.access import Act, demand
from caseload.actions import confirming, intake
from caseload.actions.act import By, Repeated
from caseload.actions.looks import exported, listed
from caseload.errors import Refusal
from caseload.exchange.refused_rows import refused_csv, refused_xlsx
from caseload.models import IntakeBatch, Verdict
from caseload.reads.intake import Tally, left_out, recent, row_views, samples, tally
from caseload.reads.intake_questions import askings
from caseload.web.clock import by_of
from caseload.web.exports import CSV, XLSX
from caseload.web.forms.intake import ColumnsForm, UploadForm, decisions_of, known_sources
from caseload.web.paging import read_paging, with_changes
from caseload.web.uploads import is_too_big
from caseload.web.views.answering import FORM_METHODS, Page, answer, press, shown

ON_A_PAGE = "50"


@require_http_methods(FORM_METHODS)
def start(request: HttpRequest) -> HttpResponse:
    by = by_of(request)
    source = {"source": intake.DEFAULT_SOURCE}
    form = UploadForm(request.POST or None, today=by.today, files=request.FILES or None, initial=source)
    if is_too_big(request):
        form.errors.pop("file", None)
        form.add_error("file", UploadForm.too_big())
    if request.method != "POST" or not form.is_valid():
        return _start(request, form)
    try:
        batch = intake.upload(by=by, **form.upload())
    except Repeated as repeated:
        return redirect("intake-list", repeated.outcome)
    except Refusal as refusal:
        form.add_error("file", refusal.message)
        return _start(request, form)
    return redirect("intake-list", batch.code)


def _start(request: HttpRequest, form: UploadForm) -> HttpResponse:
    status = 413 if form.is_too_big else 422 if form.is_bound else 200
    context = {"recent": recent(), "sources": known_sources()}
    page = Page("Intake", "Read the list", "", template="intake/start.html", context=context)
    return shown(request, form, page, status=status)


@require_http_methods(["GET", "HEAD"])
def show(request: HttpRequest, code: str) -> HttpResponse:
    by, batch = by_of(request), _batch(code)
    if batch.question:
        return redirect("intake-columns", batch.code)
    counts = tally(batch)
    asked = {name: request.GET.get(name, "") for name in ("verdict", "page", "per")}
    verdict = asked["verdict"] if asked["verdict"] in Verdict.values else ""
    found = batch.rows.filter(verdict=verdict) if verdict else batch.rows.all()
    paging = read_paging({"per": ON_A_PAGE} | {name: text for name, text in asked.items() if text},
                         counts.verdicts[Verdict(verdict)] if verdict else counts.rows)  # fmt: skip
    rows = list(found[paging.start : paging.stop])
    if rows:
        listed(by=by, route="intake-list", rows=len(rows))
    asking = verdict == Verdict.DOUBTFUL and not batch.confirmed_at and not intake.taking_in(batch)
    context = {
        "batch": batch,
        "job": None if batch.confirmed_at else intake.taking_in(batch),
        "counts": counts,
        "tabs": _tabs(counts, verdict),
        "verdict": verdict,
        "askings": askings(rows, batch) if asking else [],
        "rows": [] if asking else row_views(rows, batch),
        "paging": paging,
        "steps": [(page, with_changes(asked, page=page) if page else "") for page in paging.named],
        "query": with_changes(asked),
    }
    return render(request, "intake/list.html", context)


def _tabs(counts: Tally, chosen: str) -> list[dict[str, Any]]:
    every = {"name": "all rows", "count": counts.rows, "href": "?", "here": not chosen}
    return [every] + [
        {"verdict": each, "name": each.label, "count": count, "href": f"?verdict={each}", "here": each == chosen}
        for each, count in counts.verdicts.items()
    ]


@require_http_methods(FORM_METHODS)
def columns(request: HttpRequest, code: str) -> HttpResponse:
    by, batch = by_of(request), _batch(code)
    form = _columns_form(request.POST or None, batch, by)
    if request.method == "GET":
        listed(by=by, route="intake-columns", rows=batch.rows.count())
    back = reverse("intake") if batch.question else reverse("intake-list", args=[code])
    page = Page(
        "Columns, dates and site",
        "Read the list again",
        back,
        batch.question or _about(batch),
        now=lambda: _stored(code, by),
    )
    return answer(
        request, by, form, page,
        lambda by: intake.remap(
            batch, by=by, version=form.cleaned_data["version"],
            meaning=intake.Meaning(form.columns, form.month_first, form.cleaned_data["site"]),
        ),
        to=lambda made: reverse("intake-list", args=[made or code]), saved="The list was read again.",
    )  # fmt: skip


@require_POST
def answers(request: HttpRequest, code: str) -> HttpResponse:
    by, batch = by_of(request), _batch(code)
    decided = decisions_of(request.POST)
    taken = sum(decision.made for decision in decided.values())
    return press(
        request, by, lambda by: intake.decide(batch, by=by, version=_version(request), decisions=decided),
        to=reverse("intake-list", args=[code]) + with_changes(request.GET.dict()),
        saved=f"Answers kept: {taken} to take in, {len(decided) - taken} to leave out. Nothing is written yet.",
    )  # fmt: skip


@require_POST
def confirm(request: HttpRequest, code: str) -> HttpResponse:
    """A short list is taken in at once; a long one behind the pages, and the page of that work says how far it is."""
    by, batch = by_of(request), _batch(code)
    if confirming.is_long(batch) and not batch.confirmed_at:
        return _ask(request, batch, by)
    return press(
        request, by, lambda by: confirming.confirm(batch, by=by, version=_version(request)),
        to=reverse("intake-list", args=[code]), saved="The list is taken in. Each row says what became of it.",
    )  # fmt: skip


def _ask(request: HttpRequest, batch: IntakeBatch, by: By) -> HttpResponse:
    try:
        return redirect("job", confirming.ask_confirm(batch, by=by, version=_version(request)).code)
    except Repeated as repeated:
        return redirect("job", repeated.outcome)
    except Refusal as refusal:
        messages.error(request, refusal.message)
        return redirect("intake-list", batch.code)


@require_POST
def throw_away(request: HttpRequest, code: str) -> HttpResponse:
    by, batch = by_of(request), IntakeBatch.objects.filter(code=code).first()
    if batch is None:  # the second half of a double click
        return redirect("intake")
    return press(
        request, by, lambda by: intake.discard(batch, by=by), to=reverse("intake"),
        saved="The upload is thrown away. Nothing of it was written.",
    )  # fmt: skip


@require_POST
def refused_rows(request: HttpRequest, code: str) -> HttpResponse:
    """The rows left out, as a file like the one uploaded, with the reason in a column."""
    by, batch = by_of(request), _batch(code)
    demand(by.roles, Act.LIST_EXPORT)
    rows = left_out(batch)
    exported(by=by.unkeyed, route="intake-refused", rows=len(rows))
    write, kind, ending = (refused_xlsx, XLSX, "xlsx") if batch.workbook else (refused_csv, CSV, "csv")
    response = HttpResponse(write(batch.headers, rows), content_type=kind)
    response.headers["Content-Disposition"] = f'attachment; filename="left-out-{by.today.isoformat()}.{ending}"'
    return response


def _batch(code: str) -> IntakeBatch:
    return get_object_or_404(IntakeBatch.objects.select_related("source", "site", "by", "confirmed_by"), code=code)


def _columns_form(data: Any, batch: IntakeBatch, by: By) -> ColumnsForm:
    return ColumnsForm(
        data, today=by.today, samples=samples(batch), columns=batch.columns,
        month_first=batch.month_first, site=batch.site, version=batch.version,
    )  # fmt: skip


def _stored(code: str, by: By) -> tuple[int, dict[str, Any]]:
    """The version of a list and what its columns mean, as somebody else has left them."""
    batch = _batch(code)
    return batch.version, _columns_form(None, batch, by).meaning


def _version(request: HttpRequest) -> int:
    """The version that the page showed. Without one, none: the act then refuses."""
    text = request.POST.get("version", "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else 0


def _about(batch: IntakeBatch) -> str:
    return f"{batch.file_name}, from {batch.source.name}. What you choose is remembered for this source."
