"""Long lists as files: the same rows in the same order as the page has, at once or, where there are many, as a job.

`caseload.apps` imports this, so that every process knows the kind of job.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date
from itertools import chain, islice
from typing import Any, Final, NamedTuple

from django.db import transaction
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from caseload.access import Act
from caseload.access.addresses import ADDRESSES
from caseload.access.roles import not_allowed
from caseload.actions import list_files
from caseload.actions.act import By, Repeated
from caseload.actions.jobs import Steps, kind, reach
from caseload.actions.turns import in_turn
from caseload.errors import Refusal
from caseload.models import Job, JobFile, Staff
from caseload.reads import caseload, overdue, to_book, wait_patients, waits
from caseload.reads.away import away_on
from caseload.reads.names import names
from caseload.reads.reach import Reader
from caseload.reads.to_book_details import details
from caseload.web.clock import by_of, now
from caseload.web.exports import KINDS, as_file, kind_of
from caseload.web.forms.filters import CaseloadFilters, OverdueFilters
from caseload.web.forms.to_book import ToBookFilters
from caseload.web.forms.wait_patients import wait_patients_form
from caseload.web.tables import CaseloadExport, CaseloadTable, ListTable, OverdueExport, OverdueTable
from caseload.web.to_book_rows import ToBookExport
from caseload.web.wait_rows import WaitExport, WaitTable

AT_ONCE: Final = 1000
"""Rows that a request writes; more are a job."""
STEP: Final = 500
Query = Mapping[str, str]


class Listing(NamedTuple):
    """A list as somebody asked for it: how many rows, the rows, and the table that makes values of some of them."""

    total: int
    rows: Iterator[Any]
    table: Callable[[Sequence[Any]], ListTable]

    def parts(self) -> Iterator[list[list[Any]]]:
        """The header and then all rows as values, some at a time."""
        yield [[str(header) for header in next(self.table([]).as_values())]]
        while rows := list(islice(self.rows, STEP)):
            yield list(islice(self.table(rows).as_values(), 1, None))


def caseload_listing(query: Query, name: str, by: By, reader: Reader) -> Listing:
    known = names()
    found = caseload.episodes(CaseloadFilters(query, names=known, staff=by.person).asked(name), by.today, reader)
    order = CaseloadTable(query, by.today, known).ordering()
    rows = caseload.all_rows(found, order, by.today)
    return Listing(found.count(), rows, lambda some: CaseloadExport(query, by.today, known, some))


def overdue_listing(query: Query, _name: str, by: By, reader: Reader) -> Listing:
    known, absent = names(), away_on(by.today)
    asked = OverdueFilters(query, names=known, staff=by.person, absent=absent).asked()
    order = OverdueTable(query, by.today, known).ordering()
    rows = overdue.all_rows(overdue.standings(asked, by.today, absent, reader), order, by.today, absent)
    total = overdue.counts(by.today, absent, reader).of(asked)
    return Listing(total, rows, lambda some: OverdueExport(query, by.today, known, some))


def to_book_listing(query: Query, _name: str, by: By, reader: Reader) -> Listing:
    known = names()
    order = to_book.ranked(ToBookFilters(query, names=known, staff=by.person).asked(), by.today, reader)

    def table(some: Sequence[to_book.Row]) -> ToBookExport:
        made = ToBookExport(query, by.today, known, some)
        made.details = details(some, by.at)
        return made

    return Listing(len(order), to_book.read(order), table)


def wait_patients_listing(query: Query, _name: str, by: By, _reader: Reader) -> Listing:
    form = wait_patients_form(query, staff=by.person, today=by.today)
    found = waits.behind(form.asked(), form.figure, by.today, form.member)
    order = WaitTable(query, by.today, form.names).ordering()
    clock = form.asked().clock

    def table(some: Sequence[wait_patients.Row]) -> WaitExport:
        made = WaitExport(query, by.today, form.names, some)
        made.clock = clock
        return made

    return Listing(found.count(), wait_patients.all_rows(found, order), table)


LISTS: Final = {
    "caseload": caseload_listing,
    "overdue": overdue_listing,
    "to-book": to_book_listing,
    "wait-patients": wait_patients_listing,
}


def list_file(request: HttpRequest, name: str, patient: str = "") -> HttpResponse:
    """The list that the address asks for, of patients named like `patient`, as a file or as the job that makes it."""
    by, query, kind = by_of(request), request.GET.dict(), kind_of(request)
    listing = LISTS[name](query, patient, by, by)
    if listing.total <= AT_ONCE:
        headers, *rows = chain.from_iterable(listing.parts())
        return as_file(request, name, headers, rows)
    try:
        job = list_files.ask(name, by=by, rows=listing.total, query=query, patient=patient, kind=kind)
    except Repeated as repeated:
        return redirect("job", repeated.outcome)
    return redirect("job", job.code)


def _forget_patient(job: Job) -> str:
    """The name that was looked for is a patient's; what is kept of a job for good does not hold it."""
    job.asked["patient"] = ""
    job.save(update_fields=["asked"])
    return ""


@kind(list_files.KIND, leaves=_forget_patient, asks=Act.LIST_EXPORT)
def make(job: Job) -> Steps:
    """Write the list of the day on which it was asked for, of the patients in reach of whoever asked when it is made.
    A run that was killed begins again."""
    try:
        if "rows" not in job.reached:
            yield from _make(job)
    except Refusal as refusal:
        return refusal.message
    rows = job.reached["rows"]
    return "1 row is in the file." if rows == 1 else f"{rows} rows are in the file."


def _make(job: Job) -> Iterator[tuple[int, int]]:
    asked, on = job.asked, date.fromisoformat(job.asked["on"])
    by = By(Staff.objects.get(pk=asked["staff"]), job.created_at, on)
    row = ADDRESSES[asked["list"]]
    if not row.admits(by.roles, "GET"):
        raise not_allowed(row.able("GET"))
    listing = LISTS[asked["list"]](asked["query"], asked["patient"], by, replace(by, at=now()))
    written: list[list[Any]] = []
    for part in listing.parts():
        written += part
        yield min(len(written) - 1, listing.total), listing.total
    content_type, write = KINDS[asked["kind"]]
    name = f"{asked['list']}-{on.isoformat()}.{asked['kind']}"
    file = {"name": name, "media_type": content_type, "content": write(written[0], written[1:])}
    with in_turn(), transaction.atomic():
        JobFile.objects.update_or_create(job=job, defaults=file)
        _forget_patient(job)
        reach(job, rows=len(written) - 1)
