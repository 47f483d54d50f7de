"""Load a backup into an empty database of either engine."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError
from django.utils import timezone

from caseload.errors import Refusal
from caseload.management.keeping.doubtful import say_open
from caseload.management.keeping.restore import Restored, restore
from caseload.management.keeping.saying import say_counts, say_trouble


class Command(BaseCommand):
    help = """Load a backup into an empty database, SQLite or PostgreSQL: all of it or nothing. The file is checked
    before anything is written, and compared with what came of it. A backup of an older release is brought up to date.
    Everybody signs in anew. E-mails that are due are not sent, since they may have gone out after the backup was taken.
    Example: DATABASE_URL=postgresql://... python manage.py restore /mnt/backups/monday.caseload
    To move a planner that stood still since the backup: the same with --send-due"""

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path, help="what `backup` wrote")
        parser.add_argument("--no-verify", action="store_true", help="do not compare with the file afterwards")
        parser.add_argument("--send-due", action="store_true", help="let e-mails that are due go out (for a move)")

    def handle(self, *args: Any, file: Path, no_verify: bool, send_due: bool, **options: Any) -> None:
        now = timezone.now()
        try:
            restored = restore(file, now=now, compare=not no_verify, hold=not send_due)
        except Refusal as refusal:
            raise CommandError(refusal.message) from refusal
        except DatabaseError as error:
            raise CommandError(f"Nothing was restored. {say_trouble(error)}.") from error
        self.stdout.write(" ".join([said(restored), *say_open(now, restored.held)]))


def said(restored: Restored) -> str:
    same = " What is there gave the file again, byte for byte." if restored.compared else ""
    older = f" It was of an older state of release {restored.heading.release} and is up to date now."
    signing = " Everybody signs in anew."
    return f"Restored: {say_counts(restored.heading)}.{same}{older if restored.migrated else ''}{signing}"
