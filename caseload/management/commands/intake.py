"""Take a theatre list into the caseload."""

import sys
from argparse import ArgumentParser
from contextlib import nullcontext
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction
from django.utils import timezone

from caseload.actions import confirming, intake
from caseload.actions.act import By
from caseload.exchange.refused_rows import refused_csv
from caseload.management.plainly import refusals_said
from caseload.models import IntakeBatch, Site, Verdict
from caseload.reads.intake import Tally, left_out, tally, why_left_out
from caseload.wording.intake import say_taking, say_unread


class Command(BaseCommand):
    help = """Take a theatre list (CSV or XLSX) into the caseload: all rows that can be taken, a long list in portions
    of which each is written whole or not at all. Rows that cannot be taken are named on standard error with the
    column, what is wrong and what would be right; the exit status is then 1. The same file again changes nothing.
    Example: python manage.py intake october.csv --source "Day surgery" --site Fernhollow --refused left-out.csv"""

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", help="the list, or - for standard input")
        parser.add_argument("--source", default=intake.DEFAULT_SOURCE, help="its columns are remembered by this name")
        parser.add_argument("--site", default="", help="the site of rows that name none")
        parser.add_argument("--dry-run", action="store_true", help="say what it would do and write nothing")
        parser.add_argument("--accept-doubtful", action="store_true", help="take doubtful rows as they were read")
        parser.add_argument("--refused", default="", help="write the rows left out to this CSV file")

    def handle(self, *args: Any, file: str, dry_run: bool, **options: Any) -> None:
        now = timezone.now()
        by = By(None, now, timezone.localdate(now), origin="command intake")
        _writable(options["refused"])
        with refusals_said():
            batch, rows = intake.read(self._data(file), file_name=file, by=by, **self._said(options))
            with transaction.atomic() if dry_run else nullcontext():
                left_out = self._take(intake.keep(batch, rows, by=by), by, dry_run, options)
                if dry_run:
                    transaction.set_rollback(True)
        if left_out:
            sys.exit(1)

    def _take(self, batch: IntakeBatch, by: By, dry_run: bool, options: dict[str, Any]) -> int:
        if batch.question:
            intake.discard(batch, by=by)
            raise CommandError(f"{batch.question} Name the columns on the Intake page once; they are remembered.")
        if options["accept_doubtful"]:
            batch = intake.accept_doubtful(batch, by=by)
        if not dry_run:
            self._confirm(batch, by)
        return self._report(batch, dry_run, options["refused"])

    def _confirm(self, batch: IntakeBatch, by: By) -> None:
        if not confirming.is_long(batch):
            confirming.confirm(batch, by=by, version=None)
            return
        for done, of in confirming.in_portions(batch, by):
            self._progress(done, of)

    def _data(self, file: str) -> bytes:
        try:
            return sys.stdin.buffer.read() if file == "-" else Path(file).read_bytes()
        except OSError as error:
            raise CommandError(f"{file} cannot be read: {error.strerror}.") from error

    def _said(self, options: dict[str, Any]) -> dict[str, Any]:
        site = Site.objects.filter(name__iexact=options["site"]).first() if options["site"] else None
        if options["site"] and site is None:
            known = ", ".join(Site.objects.values_list("name", flat=True)) or "none yet: add one with add_site"
            raise CommandError(f"There is no site {options['site']}. There are: {known}.")
        return {"source": options["source"], "site": site}

    def _progress(self, done: int, of: int) -> None:
        if sys.stderr.isatty():
            sys.stderr.write(f"\r{done} of {of} rows" + ("\n" if done >= of else ""))

    def _report(self, batch: IntakeBatch, dry_run: bool, file: str) -> int:
        """Say what was done and what was left out; how many rows that were."""
        counts = tally(batch)
        if batch.other_sheets:
            self.stderr.write(say_unread(batch.other_sheets))
        for number, column, sentence in why_left_out(batch):
            self.stderr.write(f"row {number}: {column or 'row'}: {sentence}")
        if file and counts.left_out:
            Path(file).write_bytes(refused_csv(batch.headers, left_out(batch)))
        self.stdout.write(said(counts, dry_run) + (f" They stand in {file}." if file and counts.left_out else ""))
        return counts.left_out


def _writable(file: str) -> None:
    """Said before anything is taken in, not after. Raises CommandError."""
    path = Path(file)
    if file and (path.is_dir() or not path.parent.is_dir()):
        raise CommandError(f"{file} cannot be written: it is a folder, or its folder is not there.")


def said(counts: Tally, dry_run: bool) -> str:
    outcomes = counts.outcomes
    what = say_taking(outcomes[Verdict.NEW], outcomes[Verdict.CHANGED], outcomes[Verdict.KNOWN])
    done = "Would be taken in, and nothing was written" if dry_run else "Taken in"
    left = f"left out: {counts.left_out}" if counts.left_out else "none left out"
    return f"{counts.rows} rows read. {done}: {what}; {left}."
