"""Derive every open episode again, report where the stored rows differ, and mend them."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from caseload.actions.act import By
from caseload.actions.rederive import Drift, rederive


class Command(BaseCommand):
    help = """Derive every open episode again from its facts and compare with what is stored.
    Reports each difference; without --dry-run it also mends them. Safe to run at any time, and twice.
    Example: python manage.py rederive --dry-run"""

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--dry-run", action="store_true", help="report only, write nothing; exit status 1 on drift")

    def handle(self, *args: Any, dry_run: bool, **options: Any) -> None:
        now = timezone.now()
        drift = rederive(by=By(None, now, timezone.localdate(now), origin="command rederive"), mend=not dry_run)
        self._report(drift)
        self.stdout.write(drift.sentence(mended=not dry_run))
        if dry_run and drift.moved:
            raise SystemExit(1)

    def _report(self, drift: Drift) -> None:
        for code, moved in drift.moved.items():
            for name, (was, now) in moved.items():
                self.stdout.write(f"{code}: {name}: was {was or 'nothing'}; now {now or 'nothing'}")
