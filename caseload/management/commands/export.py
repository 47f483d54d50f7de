"""Take the whole record away as CSV files that a person can read."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand
from django.db import connection
from django.utils import timezone

from caseload.actions.act import By
from caseload.actions.looks import exported
from caseload.errors import Refusal
from caseload.management.export.files import private, whole_folder, write_tables
from caseload.management.keeping.saying import shown
from caseload.management.keeping.snapshot import snapshot
from caseload.management.keeping.state import applied, known
from caseload.management.plainly import failures_said
from caseload.models import Staff
from caseload.reads.files import FILES

README = """The record of the planner on {day} at {time}, taken away by {name}.

Each .csv file is one table: UTF-8, commas, the first line says what the columns are. Any spreadsheet opens them.
A patient, an episode, an appointment or a visit is named by its code in every file. Times are local, with what they
are ahead of universal time. An apostrophe before =, +, - or @ keeps a spreadsheet from taking a text for a formula.

File                          Lines  What it is
{files}

These files hold every patient's record and are not encrypted: keep them on an encrypted disk, and delete them when
they have served. They cannot be loaded again: `python manage.py backup` makes what can.
"""


class Command(BaseCommand):
    help = """Take the whole record away as CSV files that a person can read, one for each table, with a README.txt that
    says what they are. It can be done while the planner is in use, and is recorded as a look by whoever takes it.
    Example: python manage.py export /mnt/encrypted/record --by lena"""

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("folder", type=Path, help="a folder that is not there yet, or is empty")
        parser.add_argument("--by", required=True, metavar="USERNAME", help="who takes it away: recorded")

    def handle(self, *args: Any, folder: Path, by: str, **options: Any) -> None:
        with failures_said(f"Nothing was written to {folder}"):
            counts = export(folder, username=by)
        self.stdout.write(
            f"The record is in {folder}: {counts['patients']:,} patients, {counts['episodes']:,} episodes, "
            f"{sum(counts.values()):,} lines in {len(counts)} files; README.txt says what each is. "
            "The files are not encrypted: whoever can read them can read every patient's record."
        )


def export(folder: Path, *, username: str) -> dict[str, int]:
    """Write the files; how many lines each has. That they are taken away is recorded before they are to be had.

    Raises Refusal `nobody`, `not-migrated`, `folder-not-empty`; OSError, DatabaseError where there is no room.
    """
    if set(applied(connection)) != known():
        raise Refusal("not-migrated", "The database is not of this release: python manage.py migrate first.")
    staff = Staff.objects.filter(username__iexact=username, is_active=True).first()
    if staff is None:
        raise Refusal("nobody", f"Nobody who works here signs in as {username}. Say who takes the record away: --by.")
    now = timezone.now()
    by = By(staff, now, timezone.localdate(now), origin="command export")
    with whole_folder(folder) as fresh:
        with snapshot(fresh):
            counts = write_tables(fresh, shown())
        with private(fresh / "README.txt", "utf-8") as readme:
            readme.write(said(by, counts))
        exported(by=by, route="export", rows=sum(counts.values()))
    return counts


def said(by: By, counts: dict[str, int]) -> str:
    at = timezone.localtime(by.at)
    files = "\n".join(f"{file.name + '.csv':<26}{counts[file.name]:>9,}  {file.says}" for file in FILES)
    return README.format(day=f"{at:%d %B %Y}", time=f"{at:%H:%M}", name=by.person.name, files=files)
