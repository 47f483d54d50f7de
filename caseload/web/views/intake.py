"""Theatre lists: uploaded, looked at row by row, answered, confirmed."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from caseload.access import Act
from caseload.actions import intake
from caseload.actions.act import Repeated
from caseload.actions.looks import exported
from caseload.errors import Refusal
from caseload.exchange.refused_rows import refused_csv, refused_xlsx
from caseload.models import IntakeBatch, Verdict
from caseload.reads.intake import refused, row_views, tally
from caseload.web.exports import CSV, XLSX
from caseload.web.forms.intake import ColumnsForm, UploadForm, decisions_of, known_sources
from caseload.web.paging import read_paging, with_changes
from caseload.web.views.answering import FORM_METHODS, Page, allow, answer, press, shown

RECENT = 10


@require_http_methods(FORM_METHODS)
def start(request: HttpRequest) -> HttpResponse:
    by = allow(request, Act.INTAKE_UPLOAD)
    source = {"source": intake.DEFAULT_SOURCE}
    form = UploadForm(request.POST or None, today=by.today, files=request.FILES or None, initial=source)
    recent = IntakeBatch.objects.select_related("source", "by", "confirmed_by")[:RECENT]
    context = {"recent": recent, "sources": known_sources()}
    page = Page("Intake", "Read the list", "", template="intake/start.html", context=context)
    if request.method != "POST" or not form.is_valid():
        return shown(request, form, page, status=422 if form.is_bound else 200)
    try:
        file, said = form.cleaned_data["file"], form.said()
        batch = intake.upload(file.read(), file_name=file.name, by=by, source=said["source"], site=said["site"])
    except Repeated as repeated:
        return redirect("intake-list", repeated.outcome)
    except Refusal as refusal:
        form.refuse(refusal)
        return shown(request, form, page, status=422)
    return redirect("intake-columns" if batch.question else "intake-list", batch.code)


@require_http_methods(["GET", "HEAD"])
def show(request: HttpRequest, code: str) -> HttpResponse:
    allow(request, Act.INTAKE_UPLOAD)
    batch = _batch(code)
    if batch.question:
        return redirect("intake-columns", batch.code)
    counts, asked = tally(batch), request.GET.dict()
    verdict = asked.get("verdict", "") if asked.get("verdict") in Verdict.values else ""
    rows = batch.rows.filter(verdict=verdict) if verdict else batch.rows.all()
    paging = read_paging(asked, counts.verdicts[Verdict(verdict)] if verdict else counts.rows)
    context = {
        "batch": batch,
        "counts": counts,
        "verdicts": [
            (each, each.label, count, with_changes({}, verdict=each)) for each, count in counts.verdicts.items()
        ],
        "verdict": verdict,
        "rows": row_views(rows[paging.start : paging.stop], batch),
        "paging": paging,
        "steps": [(page, with_changes(asked, page=page) if page else "") for page in paging.named],
        "query": with_changes(asked),
    }
    return render(request, "intake/list.html", context)


@require_http_methods(FORM_METHODS)
def columns(request: HttpRequest, code: str) -> HttpResponse:
    by, batch = allow(request, Act.INTAKE_UPLOAD), _batch(code)
    form = ColumnsForm(
        request.POST or None, today=by.today, headers=batch.headers, columns=batch.columns,
        month_first=batch.month_first, site=batch.site, version=batch.version,
    )  # fmt: skip
    back = reverse("intake") if batch.question else reverse("intake-list", args=[code])
    page = Page("Which column holds what", "Read the list again", back, batch.question or _about(batch))
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
    by, batch = allow(request, Act.INTAKE_UPLOAD), _batch(code)
    decided = decisions_of(request.POST)
    to = reverse("intake-list", args=[code]) + with_changes(request.GET.dict())
    return press(
        request, by, lambda by: intake.decide(batch, by=by, version=_version(request), decisions=decided),
        to=to, saved=f"{len(decided)} rows answered.",
    )  # fmt: skip


@require_POST
def confirm(request: HttpRequest, code: str) -> HttpResponse:
    by, batch = allow(request, Act.INTAKE_CONFIRM), _batch(code)
    to = reverse("intake-list", args=[code])
    return press(
        request, by, lambda by: intake.confirm(batch, by=by, version=_version(request)), to=to,
        saved="The list was taken in. Each row says what became of it.",
    )  # fmt: skip


@require_POST
def throw_away(request: HttpRequest, code: str) -> HttpResponse:
    by, batch = allow(request, Act.INTAKE_UPLOAD), _batch(code)
    return press(
        request, by, lambda by: intake.discard(batch, by=by), to=reverse("intake"),
        saved="The upload was thrown away. Nothing of it was written.",
    )  # fmt: skip


@require_POST
def refused_rows(request: HttpRequest, code: str) -> HttpResponse:
    """The rows that were not taken as a file like the one uploaded, with the reason in a column."""
    by, batch = allow(request, Act.LIST_EXPORT), _batch(code)
    rows = refused(batch)
    exported(by=by, route="intake-refused", rows=len(rows))
    write, kind, ending = (refused_xlsx, XLSX, "xlsx") if batch.workbook else (refused_csv, CSV, "csv")
    response = HttpResponse(write(batch.headers, rows), content_type=kind)
    response.headers["Content-Disposition"] = f'attachment; filename="refused-{by.today.isoformat()}.{ending}"'
    return response


def _batch(code: str) -> IntakeBatch:
    return get_object_or_404(IntakeBatch.objects.select_related("source", "site", "by", "confirmed_by"), code=code)


def _version(request: HttpRequest) -> int | None:
    text = request.POST.get("version", "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else None


def _about(batch: IntakeBatch) -> str:
    return f"{batch.file_name}, from {batch.source.name}. What you choose is remembered for this source."
