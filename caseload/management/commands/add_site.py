"""Add a site with its holidays and the shipped rules."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from caseload.actions.act import By
from caseload.actions.people import LONDON, add_site
from caseload.management.plainly import refusals_said
from caseload.models import Site
from caseload.reads.names import holds_demo
from caseload.reads.sessions import on_closed_days
from caseload.wording.dates import say_date


class Command(BaseCommand):
    help = """Add a site, or correct the one of that name. Safe to run twice.
    Example: python manage.py add_site "Riverside" --region GB-ENG --weekdays 01234 --telephone "01632 960123" """

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name")
        parser.add_argument("--region", required=True, help="whose public holidays it keeps, such as GB-ENG")
        parser.add_argument("--weekdays", default="01234", help="days it opens, 0 for Monday (default: %(default)s)")
        parser.add_argument("--telephone", default="", help="where patients ring")
        parser.add_argument("--zone", default=LONDON, help="whose clocks it keeps (default: %(default)s)")

    def handle(
        self, *args: Any, name: str, region: str, weekdays: str, telephone: str, zone: str, **options: Any
    ) -> None:
        now = timezone.now()
        by = By(None, now, timezone.localdate(now), origin="command add_site")
        if holds_demo() and not Site.objects.filter(name=name).exists():
            raise CommandError("This database holds the demo. Wipe it first: python manage.py demo --wipe")
        with refusals_said():
            site = add_site(name, by=by, region=region, weekdays=weekdays, telephone=telephone, zone=zone)
        until = site.region.covered_until
        self.stdout.write(f"{site}: {site.region} holidays, known until {until:%d %b %Y}; two rule sets loaded.")
        if closed := on_closed_days(by.today):
            days = ", ".join(sorted({say_date(row.on) for row in closed}))
            self.stdout.write(f"{len(closed)} sessions lie on closed days now: {days}. See Sessions.")
