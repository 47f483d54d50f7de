"""Fill an empty database with the invented Fernhollow Hand Clinic, or wipe it."""

import sys
from argparse import ArgumentParser
from time import monotonic
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from caseload.actions.wiping import real_rows, wipe
from caseload.demo.people import PASSWORD, SIGN_INS
from caseload.demo.scenario import Summary, build
from caseload.management.plainly import refusals_said
from caseload.reads.names import holds_demo
from caseload.timetable.terms import Headline
from caseload.wording import label

STEP = 0.1
"""Without a terminal, a line for each tenth."""


class Command(BaseCommand):
    help = """Fill an empty database with an invented clinic: two sites, its staff, and half a year of about 400
    episodes up to today. Refuses on a database with anything real in it. Safe to run twice.
    Example: python manage.py demo
    Wipe it again: python manage.py demo --wipe"""

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--wipe", action="store_true", help="remove the demo and everything entered into it")
        parser.add_argument("--yes", action="store_true", help="with --wipe: do not ask")

    def handle(self, *args: Any, wipe: bool, yes: bool, **options: Any) -> None:
        if wipe:
            self.wipe(yes)
        else:
            self.fill()

    def fill(self) -> None:
        if real := real_rows():
            said = " and ".join(f"{count} {name}" for name, count in real.items())
            raise CommandError(
                f"This database holds {said} of a real service, so the demo was not loaded. "
                "Give it a database of its own: DATABASE_URL=sqlite:///demo.sqlite3 python manage.py start"
            )
        if holds_demo():
            self.stdout.write("The demo is here already. Wipe it first to have it anew: python manage.py demo --wipe")
            return
        began, now = monotonic(), timezone.now()
        built = build(timezone.localdate(now), now=now, progress=self._progress())
        self.stdout.write(f"\n{sentence(built)} ({monotonic() - began:.0f} s)\n\n{sign_ins()}")

    def wipe(self, yes: bool) -> None:
        if not holds_demo() and not real_rows():
            self.stdout.write("There is no demo here to wipe.")
            return
        if not yes and not self._agreed():
            raise CommandError("Nothing was wiped.")
        with refusals_said():
            gone = wipe()
        said = ", ".join(f"{count} {name}" for name, count in gone.items())
        self.stdout.write(f"The demo is gone: {said}. python manage.py demo loads it anew.")

    def _agreed(self) -> bool:
        if not sys.stdin.isatty():
            raise CommandError("Say --yes to wipe the demo without being asked.")
        return input("Remove the demo and everything entered into it? Type yes: ").strip().lower() == "yes"

    def _progress(self) -> Any:
        terminal = getattr(self.stdout, "isatty", lambda: False)()
        said = [0.0]

        def show(done: int, of: int) -> None:
            share = done / of
            if terminal:
                self.stdout.write(f"\rTelling {of} stories: {share:4.0%} ", ending="")
                self.stdout.flush()
            elif share - said[0] >= STEP or done == of:
                said[0] = share
                self.stdout.write(f"Telling {of} stories: {share:.0%}")

        return show


def sentence(built: Summary) -> str:
    needing = ", ".join(f"{label(each)} {built.headlines[each]}" for each in Headline if each in built.headlines)
    return (
        f"The demo is loaded: {built.episodes} episodes of {built.patients} patients, {built.open} of them open and "
        f"{built.planned} planned. Of the open ones {built.in_hand} are in hand; the others by headline: {needing}. "
        f"{built.sessions} sessions; {built.booked} visits are booked ahead, {built.free} slots are free in two weeks."
    )


def sign_ins() -> str:
    lines = [f"  {each.username:<10} {each.name} ({', '.join(each.roles)})" for each in SIGN_INS]
    return "\n".join([f"Sign in as one of these, all with the password “{PASSWORD}”:", *lines])
