"""Load a backup into an empty database of either engine."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError

from caseload.errors import Refusal
from caseload.management.keeping.restore import Restored, restore
from caseload.management.keeping.saying import NO_ROOM, say_counts


class Command(BaseCommand):
    help = """Load a backup into an empty database, SQLite or PostgreSQL: all of it or nothing. The file is checked
    before anything is written, and compared with what came of it afterwards. A backup of an older release is brought
    up to date. Everybody signs in anew.
    Example: DATABASE_URL=postgresql://... python manage.py restore /mnt/backups/monday.caseload"""

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="what `backup` wrote")
        parser.add_argument("--no-verify", action="store_true", help="do not compare with the file afterwards")

    def handle(self, *args: Any, file: Path, no_verify: bool, **options: Any) -> None:
        try:
            restored = restore(file, compare=not no_verify)
        except Refusal as refusal:
            raise CommandError(refusal.message) from refusal
        except DatabaseError as error:
            raise CommandError(f"Nothing was restored. {NO_ROOM}.") from error
        self.stdout.write(said(restored))


def said(restored: Restored) -> str:
    same = " What is there now gives the file again, byte for byte." if restored.compared else ""
    older = f" It was of release {restored.heading.release} and was brought up to date." if restored.migrated else ""
    return f"Restored: {say_counts(restored.heading)}.{same}{older} Everybody signs in anew."
