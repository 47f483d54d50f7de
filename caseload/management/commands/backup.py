"""Save the whole database as one file, while it is in use."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand
from django.db import connection

from caseload.errors import Refusal
from caseload.management.keeping.dump import counted, lines
from caseload.management.keeping.files import Checked, refuse_taken, write
from caseload.management.keeping.heading import Heading, tables_of
from caseload.management.keeping.saying import NOT_ENCRYPTED, progress, say_counts
from caseload.management.keeping.snapshot import snapshot
from caseload.management.keeping.state import applied, models_at, refuse_newer, release
from caseload.management.plainly import failures_said


class Command(BaseCommand):
    help = """Save the whole database as one file, while it is in use: nobody has to stop, and the file holds one
    instant of it. The file fits SQLite and PostgreSQL alike; `restore` loads it into an empty database of either.
    Sign-ins, the secret key and the folder of e-mails are not in it. It is read back before it counts as made.
    Example: python manage.py backup /mnt/backups/monday.caseload"""

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="the file to write")
        parser.add_argument("--replace", action="store_true", help="replace the file if it is there")

    def handle(self, *args: Any, file: Path, replace: bool, **options: Any) -> None:
        with failures_said(f"{file} was not written, nothing is left of it"):
            checked = save(file, replace=replace)
        self.stdout.write(
            f"Saved to {file}: {say_counts(checked.heading)}. Read back and whole, SHA-256 {checked.digest}."
        )
        self.stdout.write(NOT_ENCRYPTED)


def save(file: Path, *, replace: bool) -> Checked:
    """Write what the database holds now. Raises Refusal, OSError, DatabaseError; then the file is as it was."""
    refuse_taken(file, replace)
    names = applied(connection)
    if not names:
        raise Refusal("no-tables", "There is no database of the planner to save: DATABASE_URL says where it is.")
    refuse_newer("The database", names)
    empty = Heading(release(), names, tables_of(models_at(names)))
    with snapshot(file.absolute().parent) as view:
        heading = counted(view, empty)
        return write(file, lines(view, heading, progress(heading.rows)), replace=replace)
