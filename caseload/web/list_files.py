"""Long lists as files: the same rows in the same order as the page has, at once or, where there are many, as a job.

`caseload.apps` imports this, so that every process knows the kind of job.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date
from itertools import islice
from typing import Any, Final, NamedTuple

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from caseload.actions import list_files
from caseload.actions.act import Repeated
from caseload.actions.jobs import Steps, kind
from caseload.models import Job, JobFile, Staff
from caseload.reads import caseload, overdue
from caseload.reads.away import away_on
from caseload.reads.names import names
from caseload.web.clock import by_of
from caseload.web.exports import KINDS, export, kind_of
from caseload.web.forms.filters import CaseloadFilters, OverdueFilters
from caseload.web.tables import CaseloadExport, CaseloadTable, ListTable, OverdueExport, OverdueTable

AT_ONCE: Final = 1000
"""Rows that a request writes; more are a job."""
STEP: Final = 500


class Listing(NamedTuple):
    """A list as somebody asked for it: how many rows, the rows, and the table that makes values of them."""

    total: int
    rows: Callable[[], Iterator[Any]]
    table: Callable[[Sequence[Any]], ListTable]


def caseload_listing(query: Mapping[str, str], name: str, staff: Staff, today: date) -> Listing:
    known = names()
    found = caseload.episodes(CaseloadFilters(query, names=known, staff=staff).asked(name), today)
    order, count = CaseloadTable(query, today, known).ordering(), found.count()
    return Listing(
        count,
        lambda: caseload.all_rows(found, order, count, today),
        lambda rows: CaseloadExport(query, today, known, rows),
    )


def overdue_listing(query: Mapping[str, str], _name: str, staff: Staff, today: date) -> Listing:
    known, absent = names(), away_on(today)
    asked = OverdueFilters(query, names=known, staff=staff, absent=absent).asked()
    found = overdue.standings(asked, today, absent)
    order, count = OverdueTable(query, today, known).ordering(), overdue.counts(today, absent).of(asked)
    return Listing(
        count,
        lambda: overdue.all_rows(found, order, count, today, absent),
        lambda rows: OverdueExport(query, today, known, rows),
    )


LISTS: Final = {"caseload": caseload_listing, "overdue": overdue_listing}


def list_file(request: HttpRequest, name: str, patient: str = "") -> HttpResponse:
    """The list that the address asks for, of patients named like `patient`, as a file or as the job that makes it."""
    by, query = by_of(request), request.GET.dict()
    listing = LISTS[name](query, patient, by.person, by.today)
    if listing.total <= AT_ONCE:
        return export(request, listing.table(list(listing.rows())), name)
    try:
        job = list_files.ask(name, by=by, rows=listing.total, query=query, patient=patient, kind=kind_of(request))
    except Repeated as repeated:
        return redirect("job", repeated.outcome)
    return redirect("job", job.code)


@kind(list_files.KIND)
def make(job: Job) -> Steps:
    """Write the list of the day on which it was asked for. Made again after a kill, it replaces the file."""
    asked, today = job.asked, date.fromisoformat(job.asked["on"])
    listing = LISTS[asked["list"]](asked["query"], asked["patient"], Staff.objects.get(pk=asked["staff"]), today)
    rows: list[Any] = []
    left, of = listing.rows(), listing.total // STEP + 2
    while more := list(islice(left, STEP)):
        yield len(rows) // STEP, max(of, len(rows) // STEP)
        rows += more
    yield of - 1, of
    headers, *values = listing.table(rows).as_values()
    content_type, write = KINDS[asked["kind"]]
    file = {
        "name": f"{asked['list']}-{today.isoformat()}.{asked['kind']}",
        "media_type": content_type,
        "content": write([str(header) for header in headers], values),
    }
    JobFile.objects.update_or_create(job=job, defaults=file)
    yield of, of
    return f"{len(rows)} rows are in the file."
