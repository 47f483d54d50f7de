"""Date the weekly sessions ahead; the schedule does the same each night."""

from argparse import ArgumentParser
from datetime import date
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from caseload.actions.act import By
from caseload.actions.dating import make_sessions


class Command(BaseCommand):
    help = "Make the dated sessions of every weekly session that are not there yet. Safe to run twice."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--until", type=date.fromisoformat, help="last day, as 2026-12-31 (default: 26 weeks ahead)"
        )

    def handle(self, *args: Any, until: date | None, **options: Any) -> None:
        now = timezone.now()
        made = make_sessions(by=By(None, now, timezone.localdate(now), origin="command make_sessions"), until=until)
        self.stdout.write(f"{len(made.sessions)} sessions made, {len(made.left_out)} left out.")
        for said in made.left_out:
            self.stdout.write(said)
