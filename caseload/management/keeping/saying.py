"""What a backup holds, in a few words without a name in them, and how far its making has come."""

import sys
from collections.abc import Callable
from typing import Final

from django.db import DatabaseError, OperationalError

from caseload.management.keeping.heading import Heading

NAMED: Final = {"caseload_patient": "patients", "caseload_episode": "episodes", "caseload_appointment": "appointments"}
NOT_ENCRYPTED: Final = (
    "The file is not encrypted, and whoever can read it can read every patient's record: keep it on an encrypted disk, "
    "or encrypt it before it leaves this machine (DEVELOPERS.md, “Backup, restore, move, export”)."
)
FULL: Final = ("database or disk is full", "disk I/O error", "could not extend file", "could not write")


def say_trouble(error: DatabaseError) -> str:
    """Why a database could not go on, without a word of what is in it."""
    told = str(error).split("\n")[0] if isinstance(error, OperationalError) else type(error).__name__
    return (
        "There is no room left, or no leave to write there" if told.startswith(FULL) else f"The database said: {told}"
    )


def say_counts(heading: Heading) -> str:
    """“412 patients, 530 episodes, 1,204 appointments; 48,211 rows in 51 tables”."""
    few = ", ".join(f"{heading.count(table):,} {word}" for table, word in NAMED.items())
    return f"{few}; {heading.rows:,} rows in {len(heading.tables)} tables"


def progress(of: int) -> Callable[[int], None] | None:
    """What shows how many rows of `of` are done; None where nobody is looking."""
    if not sys.stderr.isatty():
        return None

    def show(done: int) -> None:
        sys.stderr.write(f"\r{done:,} of {of:,} rows" + ("\n" if done >= of else ""))
        sys.stderr.flush()

    return show


def shown() -> Callable[[str], None]:
    """What shows which file is being written, where somebody is looking."""
    looking = sys.stderr.isatty()
    return lambda name: print(name, file=sys.stderr) if looking else None
