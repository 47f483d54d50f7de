"""Propose appointments for everything that is unbooked."""

import sys
from argparse import ArgumentParser
from datetime import date, timedelta
from typing import Any

from django.core.management.base import BaseCommand
from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from caseload.actions import filling
from caseload.actions.turns import in_turn
from caseload.booking.fill import LIMIT, Plan
from caseload.management.plainly import refusals_said
from caseload.reads.filling import Question

AHEAD = timedelta(days=28)


class Command(BaseCommand):
    help = """Propose appointments for everything on the booking list, at proven least cost, and keep the plan for
    people to accept line by line on its page. Books nothing, so it is safe to run twice; each run makes a plan of its
    own.
    Example: python manage.py fill --from 2026-12-01 --to 2026-12-23 --dry-run"""

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--from", dest="first", type=_day, help="the first day, as 2026-12-01; else tomorrow")
        parser.add_argument("--to", dest="last", type=_day, help="the last day; else four weeks from today")
        parser.add_argument("--limit", type=float, default=LIMIT, help="seconds after which the best plan found stands")
        parser.add_argument("--dry-run", action="store_true", help="say what it would propose and write nothing")

    def handle(self, *args: Any, first: date | None, last: date | None, dry_run: bool, **options: Any) -> None:
        today = timezone.localdate()
        days = first or today + timedelta(days=1), last or today + AHEAD
        with refusals_said():
            filling.check_days(*days, today)
        asked = filling.asked_now(*days)
        self._answer(self._planned(asked, options["limit"]), asked, dry_run)

    def _planned(self, asked: Question, limit: float) -> Plan:
        parts = filling.in_parts(asked, limit)
        while True:
            try:
                self._progress(*next(parts))
            except StopIteration as over:
                plan: Plan = over.value
                return plan

    def _answer(self, plan: Plan, asked: Question, dry_run: bool) -> None:
        with in_turn(), transaction.atomic():
            made = filling.keep(plan, asked)
            said = filling.say_made(made)
            if dry_run:
                transaction.set_rollback(True)
        kept = "Nothing was written." if dry_run else f"To be looked at: {reverse('fill-plan', args=[made.code])}"
        self.stdout.write(f"{said} {kept}")

    def _progress(self, done: int, of: int) -> None:
        if sys.stderr.isatty():
            sys.stderr.write(f"\r{done} of {of} visits" + ("\n" if done >= of else ""))


def _day(text: str) -> date:
    """Raises ValueError, which the parser puts into words."""
    return date.fromisoformat(text)


_day.__name__ = "day such as 2026-12-01"
