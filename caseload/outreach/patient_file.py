"""Everything held on one patient, as files: a table each for spreadsheets, and all of it once more to be read.

`caseload.apps` imports this, so that every process knows the kind of job.
"""

import io
import zipfile
from collections.abc import Iterator, Sequence
from datetime import date, datetime
from typing import Any, Final, NamedTuple

from django.db import transaction
from django.template.loader import render_to_string
from django.utils import timezone

from caseload.access import Act
from caseload.actions.jobs import Steps, kind
from caseload.actions.patient_files import KIND
from caseload.exchange.writing import write_csv
from caseload.models import Job, JobFile, Patient, TrailEntry
from caseload.reads.columns import columns_of, plain
from caseload.reads.held import PARTS, Part, Whose, whose
from caseload.reads.history import Told, tell
from caseload.wording import say_date

NAME: Final = "patient-file.zip"
"""Says nothing of the patient: it ends up among the downloads of whoever asked."""
SUMMARY: Final = "read-me-first.html"
HISTORY: Final = ["When", "Who", "What", "What moved"]
MADE_AT: Final = (2000, 1, 1, 0, 0, 0)
"""Stands beside each file in the archive: the same rows give the same bytes."""


class Table(NamedTuple):
    """The rows of one part as values, under the headers of its columns; `history` is the trail as the pages tell it."""

    part: Part
    headers: list[str]
    rows: list[list[Any]]
    history: list[Told] | None = None

    @property
    def told(self) -> tuple[list[str], list[list[str]]]:
        """The same in words, without columns in which no row says anything."""
        if self.history is not None:
            return HISTORY, [[in_words(plain(row.at)), row.by, row.what, "; ".join(row.moved)] for row in self.history]
        words = [[in_words(value) for value in row] for row in self.rows]
        some = [at for at in range(len(self.headers)) if any(row[at] for row in words)]
        return [self.headers[at] for at in some], [[row[at] for at in some] for row in words]


def tables(found: Whose) -> Iterator[Table]:
    """Each part of a file, read one after the other."""
    for part in PARTS:
        if not part.left_out:
            columns = columns_of(part.model, part.unsaid)
            rows = part.rows(found).values_list(*(column.path for column in columns))
            said = [[column.say(value) for column, value in zip(columns, row, strict=True)] for row in rows]
            history = tell(part.rows(found).select_related("by")) if part.model is TrailEntry else None
            yield Table(part, [column.header for column in columns], said, history)


def files_of(held: Sequence[Table], at: datetime) -> Iterator[tuple[str, bytes]]:
    """Name and content of every file; the one to be read comes first, a table without rows gives none."""
    left_out = [part for part in PARTS if part.left_out]
    context = {"tables": held, "left_out": left_out, "at": timezone.localtime(at)}
    yield SUMMARY, render_to_string("privacy/summary.html", context).encode()
    for table in held:
        if table.rows:
            yield f"{table.part.name}.csv", write_csv(table.headers, table.rows)


@kind(KIND, asks=Act.PATIENT_FILE)
def make(job: Job) -> Steps:
    """Write the file as the record stands now. Made again, it replaces the file."""
    patient = Patient.objects.filter(code=job.asked["patient"]).first()
    if patient is None:
        return "The record of this patient is not here any more."
    yield 0, 2
    held = list(tables(whose(patient)))
    yield 1, 2
    file = {"name": NAME, "media_type": "application/zip", "content": zipped(files_of(held, timezone.now()))}
    with transaction.atomic():
        JobFile.objects.update_or_create(job=job, defaults=file)
    yield 2, 2
    counts = [len(table.rows) for table in held if table.rows]
    return f"{sum(counts)} rows of {len(counts)} tables are in the file."


def zipped(files: Iterator[tuple[str, bytes]]) -> bytes:
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files:
            archive.writestr(zipfile.ZipInfo(name, MADE_AT), content, zipfile.ZIP_DEFLATED)
    return data.getvalue()


def in_words(value: Any) -> str:
    if value in (None, ""):
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return f"{say_date(value.date())}, {value:%H:%M}"
    return say_date(value) if isinstance(value, date) else str(value)
