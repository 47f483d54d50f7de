"""Rows of values as a file, CSV or XLSX."""

from collections.abc import Callable, Sequence
from datetime import date
from typing import Any

from django.http import HttpRequest, HttpResponse

from caseload.actions.looks import exported
from caseload.errors import Refusal
from caseload.exchange.writing import write_csv, write_xlsx
from caseload.web.clock import by_of

CSV = "text/csv; charset=utf-8"
XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
KINDS: dict[str, tuple[str, Callable[..., bytes]]] = {"csv": (CSV, write_csv), "xlsx": (XLSX, write_xlsx)}


def as_file(
    request: HttpRequest, name: str, headers: Sequence[str], rows: Sequence[Sequence[Any]], *, of: date | None = None
) -> HttpResponse:
    """Rows of values as a file, named by the day they are of, else by today.

    That they were taken away is recorded before anything leaves.

    Raises Refusal `unknown-file-kind`.
    """
    kind, by = kind_of(request), by_of(request)
    exported(by=by, route=f"{name}-file", rows=len(rows))
    content_type, write = KINDS[kind]
    response = HttpResponse(write(headers, rows), content_type=content_type)
    response.headers["Content-Disposition"] = f'attachment; filename="{name}-{of or by.today}.{kind}"'
    return response


def kind_of(request: HttpRequest) -> str:
    kind = request.POST.get("kind", "")
    if kind not in KINDS:
        raise Refusal("unknown-file-kind", "A list can be had as CSV or as XLSX.")
    return kind


def is_export(request: HttpRequest) -> bool:
    return request.method == "POST" and "kind" in request.POST
