"""Add somebody who may sign in."""

from argparse import ArgumentParser
from getpass import getpass
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from caseload.actions.people import add_person
from caseload.management.plainly import refusals_said
from caseload.timetable.terms import Owner


class Command(BaseCommand):
    help = """Add a member of staff; asks for a password. One person may hold several roles. The first lead of a new
    service comes from here; a lead invites everybody else on the page People, and sets up a second factor first.
    Example: python manage.py add_person thea --name "Thea Marsh" --role therapist --role lead"""

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("username")
        parser.add_argument("--name", required=True)
        parser.add_argument("--role", action="append", choices=[str(role) for role in Owner], required=True)
        parser.add_argument("--email", default="")

    def handle(self, *args: Any, username: str, name: str, role: list[str], email: str, **options: Any) -> None:
        password = getpass("Password: ")
        if password != getpass("Again: "):
            raise CommandError("The two passwords differ. Nobody was added.")
        with refusals_said():
            staff = add_person(username, name=name, roles={Owner(one) for one in role}, password=password, email=email)
        self.stdout.write(f"{staff} may sign in as {staff.username}: {', '.join(sorted(staff.roles))}.")
        if staff.is_lead:
            self.stdout.write("At the first sign-in a lead sets up a second factor: a passkey, or codes from an app.")
            self.stdout.write("From then on they invite everybody else on the page Sessions, under People.")
