"""Say whose record has outlived its time, and remove those records."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand
from django.db import transaction
from django.utils import timezone

from caseload.access import Act, demand
from caseload.actions.act import By
from caseload.actions.retention import remove_if_over
from caseload.actions.turns import in_turn
from caseload.errors import Refusal
from caseload.management.plainly import refusals_said
from caseload.models import Patient, Staff
from caseload.reads.retention import Over, Survey, survey
from caseload.wording.dates import say_date
from caseload.wording.retention import say_removed, say_why


class Command(BaseCommand):
    help = """Say whose record has outlived its time, by code, and why all others are kept. Writes nothing.
    Example: python manage.py retention
    Remove those records for good, each whole and by itself, so that it can be stopped and started again. A lead answers
    for it: python manage.py retention --remove --by lena"""

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--remove", action="store_true", help="remove what is listed; it does not come back")
        parser.add_argument("--by", default="", metavar="USERNAME", help="the lead who answers for it: recorded")

    def handle(self, *args: Any, remove: bool, by: str, **options: Any) -> None:
        now = timezone.now()
        seen = survey(timezone.localdate(now))
        if not remove:
            self._say(seen)
            return
        with refusals_said():
            self._remove(seen.over, By(lead(by), now, timezone.localdate(now), origin="retention"))

    def _say(self, seen: Survey) -> None:
        for row in seen.over:
            self.stdout.write(f"{row.code}  {said(row)}")
        self.stdout.write(f"{len(seen.over)} records have outlived their time. Nothing was removed.")
        for why, count in seen.kept.most_common():
            self.stdout.write(f"{count} kept: {say_why(why)}")

    def _remove(self, over: list[Over], by: By) -> None:
        counts = {True: 0, False: 0}
        for row in over:
            with in_turn(), transaction.atomic():
                patient = Patient.objects.filter(code=row.code).first()
                if patient:
                    counts[remove_if_over(patient, by)] += 1
        self.stdout.write(say_removed(counts[True], counts[False]))


def said(row: Over) -> str:
    last = f"last contact {say_date(row.last_on)}" if row.last_on else ""
    return f"{last}, kept until {say_date(row.until)}: {say_why(row.why)}"


def lead(username: str) -> Staff:
    """Who answers for it. Raises Refusal `nobody`, `not-allowed`."""
    staff = Staff.objects.filter(username__iexact=username, is_active=True).first()
    if staff is None:
        raise Refusal("nobody", "Say who answers for it: --by, with the user name of a lead.")
    demand(staff.roles, Act.RECORD_REMOVE)
    return staff
