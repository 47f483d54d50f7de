"""Add a site with its holidays and the shipped rules."""

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from caseload.actions.act import By
from caseload.actions.people import add_site
from caseload.errors import Refusal


class Command(BaseCommand):
    help = """Add a site, or correct the one of that name. Safe to run twice.
    Example: python manage.py add_site "Riverside" --region GB-ENG --weekdays 01234 --telephone "01632 960123" """

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name")
        parser.add_argument("--region", required=True, help="whose public holidays it keeps, such as GB-ENG")
        parser.add_argument("--weekdays", default="01234", help="days it opens, 0 for Monday (default: %(default)s)")
        parser.add_argument("--telephone", default="", help="where patients ring")

    def handle(self, *args: Any, name: str, region: str, weekdays: str, telephone: str, **options: Any) -> None:
        now = timezone.now()
        by = By(None, now, timezone.localdate(now))
        try:
            site = add_site(name, by=by, region=region, weekdays=weekdays, telephone=telephone)
        except Refusal as refusal:
            raise CommandError(refusal.message) from refusal
        until = site.region.covered_until
        self.stdout.write(f"{site}: {site.region} holidays, known until {until:%d %b %Y}; two rule sets loaded.")
