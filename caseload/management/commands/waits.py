"""How long people wait, of any list of waits, without a database: a text file in, one JSON object out."""

import json
import re
import sys
from argparse import ArgumentParser
from typing import Any

from django.core.management.base import CommandError

from caseload.errors import Refusal
from caseload.exchange.waits_list import MOST_DAYS, read_waits
from caseload.exchange.waits_sums import waits_body
from caseload.management.lists import ListCommand, opened, read_today, speak_utf8, until_unread

EXAMPLE = """
example:
  python manage.py waits fixtures/waits/example.csv --group site --target 14 --today 2026-04-30

One wait a line; the first line names the columns (comma, semicolon or tab between them; UTF-8):
  days                 how long it was, or has been so far, in whole days
  or start_on, stop_on as 2026-04-01; stop_on is empty while the wait goes on, and then --today is needed
  ended                seen, waiting, or any other word for how else it ended (a competing end)
  entered              optional: days already waited when it came into sight, such as by a transfer (delayed entry)
Any other columns may be there and are not read, but for the one of --group. Where there are days, they count.

Those who still wait are counted in: Kaplan-Meier with Greenwood's error and log-log limits of 95 %. The answer names
every method. Of fewer than 5 waits it has the numbers and no curve; "refused" says so. within_target is read off the
curve; completed_only beside it leaves out whoever still waits, and so misleads.

A line that cannot be read is named on standard error as "line N: field: what is wrong; what would be right" and the
exit status is 1; all other lines are answered, and lines_refused says how many are not among them.
Figures defer to local policy and licensed clinicians: they propose a question, people decide.
"""


class Command(ListCommand):
    help = "Statistics of any list of waits, those still waiting counted in. Needs no database."
    example = EXAMPLE

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", help="a text file with one wait a line; - is standard input")
        parser.add_argument("--group", help="a column: its values are compared, each with figures of its own")
        parser.add_argument("--target", help="days: how many are seen by then")
        parser.add_argument("--today", help="the day up to which open waits are counted, such as 2026-04-01")

    def handle(self, *args: Any, **options: Any) -> None:
        target = read_target(options["target"])
        today = None if options["today"] is None else read_today(options["today"])
        speak_utf8()
        with opened(options["file"]) as file:
            data = file.read()
        group = options["group"] or ""
        try:
            listed = read_waits(data, group=group, today=today)
        except Refusal as refusal:
            self.stderr.write(refusal.message)
            sys.exit(1)
        for number, why in listed.refused:
            self.stderr.write(f"line {number}: {why}")
        with until_unread():
            self.stdout.write(json.dumps(waits_body(listed, target, grouped=bool(group)), ensure_ascii=False))
            self.stdout.flush()
        if listed.refused:
            sys.exit(1)


def read_target(text: str | None) -> int | None:
    if text is None:
        return None
    if not re.fullmatch("[0-9]{1,6}", text) or int(text) > MOST_DAYS:
        raise CommandError(f"--target: “{text}” is not a whole number of days up to {MOST_DAYS}; give one such as 14.")
    return int(text)
