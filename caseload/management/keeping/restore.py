"""A backup into an empty database: all of it, or nothing at all."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

from django.db import DatabaseError, connection, transaction

from caseload.actions import triggers
from caseload.actions.wiping import refuse_mixed
from caseload.errors import Refusal
from caseload.management.keeping import doubtful, files, load, state
from caseload.management.keeping.dump import last_line_of
from caseload.management.keeping.heading import Heading
from caseload.management.keeping.saying import progress


class Restored(NamedTuple):
    """`compared`: the database gave the file's very bytes again. `migrated`: it was of an older release. `held`:
    e-mails that were due and are not sent."""

    heading: Heading
    compared: bool
    migrated: bool
    held: int


def restore(file: Path, *, now: datetime, compare: bool = True, hold: bool = True) -> Restored:
    """Load a backup. Whatever goes wrong, even the end of this process, leaves the database as it was.

    Raises Refusal `not-a-backup`, `damaged-backup`, `no-file`, `newer-backup`, `newer-release`, `not-empty`,
    `row-refused`, `not-the-same`, `demo-and-real`; DatabaseError where there is no room.
    """
    checked = files.check(file)
    state.refuse_newer(f"This backup (release {checked.heading.release})", checked.heading.migrations)
    state.refuse_newer("The database", state.applied(connection))
    with _alone():
        load.refuse_unless_empty()
        triggers.remove()
        state.bring_to(checked.heading.migrations)
        _fill(file, checked)
        if compare and last_line_of(connection, checked.heading) != checked.last:
            raise Refusal("not-the-same", "What was loaded is not what the file holds. Nothing was restored.")
        load.set_keys(checked.heading.tables)  # a migration may add rows
        migrated = state.bring_up_to_date()
        load.set_keys(table for table in checked.heading.tables if table.name in connection.introspection.table_names())
        load.refuse_unpaired()
        refuse_mixed()
        triggers.install()
        held = doubtful.hold(now) if hold else 0
    return Restored(checked.heading, compare, migrated, held)


def _fill(file: Path, checked: files.Checked) -> None:
    """In whatever order the rows come: what one refers to may come later, and is looked for at the end."""
    triggers.remove()
    connection.check_constraints()  # a migration leaves PostgreSQL looking at once; this ends with looking later
    lines = files.read(file)
    if next(lines) != checked.heading.line():
        raise files.damaged(file)
    load.load(checked.heading, lines, progress(checked.heading.rows))
    if list(lines) != [checked.last.encode()]:
        raise files.damaged(file)
    try:
        connection.check_constraints()
    except DatabaseError as error:
        raise Refusal("row-refused", "A row refers to one that is not in the file. Nothing was restored.") from error


@contextmanager
def _alone() -> Iterator[None]:
    """One transaction, in which SQLite's tables may be altered too: it asks that its keys are not watched meanwhile."""
    connection.disable_constraint_checking()
    try:
        with transaction.atomic():
            yield
    finally:
        connection.enable_constraint_checking()
