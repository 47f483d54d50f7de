"""The timetable of any list of episodes, without a database: JSON lines in, JSON lines out, in order."""

import json
import sys
from argparse import ArgumentParser
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any, BinaryIO

from django.core.management.base import CommandError

from caseload.errors import Refusal
from caseload.exchange.closed_days import read_closed_days
from caseload.exchange.episode_lines import MOST_BYTES, read_episode
from caseload.exchange.timetable_lines import timetable_body
from caseload.management.lists import ListCommand, opened, read_today, said_plainly, speak_utf8, until_unread
from caseload.reads.shipped import RULE_SETS, shipped_region, shipped_rules
from caseload.timetable.calendar import Closed, OpenDays
from caseload.timetable.derive import derive
from caseload.timetable.regions import open_days
from caseload.timetable.rules import RuleSet
from caseload.wording import sentence

EXAMPLE = """
example:
  echo '{"ref": "a1", "surgery_on": "2026-03-20", "suture": "non-absorbable"}' |
    python manage.py timetable --rules two-week --region GB-ENG --today 2026-04-01

One episode a line. Its fields, all optional: ref, surgery_on, side, digit, suture, technique, raised_risk,
therapy_referral, stitches_in, findings, reviews, instructions, appointments, done, closed_on, closed_as; and, where
they are known, born_on (under 16: no driving, no work) and recorded_on (asked for missing facts from then).
Absent: the first or empty value, the suture unknown. Findings may say confirmed_full, appointments ended_on, approved
and untold_since, instructions confirmed. A stitches finding with none left is trusted where stitches_in is unknown.

A line that cannot be read is named on standard error as "line N: field: what is wrong; what would be right" and the
exit status is 1; all other lines are answered. Dates are proposals of signed-off rules; people decide.
"""


class Command(ListCommand):
    help = "Derive the timetable of each episode: JSON lines in, JSON lines out. Needs no database."
    example = EXAMPLE

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", nargs="?", default="-", help="JSON lines; - or nothing: standard input")
        parser.add_argument("--rules", required=True, help=f"{', '.join(RULE_SETS)}, or a rule set as a JSON file")
        parser.add_argument("--region", required=True, help="whose public holidays count, such as GB-ENG")
        parser.add_argument("--closed", help="a file of closed days: a date or a range FIRST..LAST a line, and why")
        parser.add_argument("--today", required=True, help="the day as of which to answer, such as 2026-04-01")

    def handle(self, *args: Any, **options: Any) -> None:
        with said_plainly():
            today = read_today(options["today"])
            rules = read_rules(options["rules"])
            calendar = open_days(shipped_region(options["region"]), read_closed(options["closed"]))
        speak_utf8()
        with opened(options["file"]) as file:
            refused = self.answer(file, rules, calendar, today)
        if refused:
            sys.exit(1)

    def answer(self, file: BinaryIO, rules: RuleSet, calendar: OpenDays, today: date) -> int:
        """Answer line by line; give back how many were refused."""
        refused = 0
        with until_unread():
            for number, line in enumerate(lines_of(file), start=1):
                if not line.strip():
                    continue
                try:
                    facts = read_episode(line)
                    timetable = derive(facts, rules, calendar, as_of=today)
                except Refusal as refusal:
                    self.stderr.write(f"line {number}: {refusal.message}")
                    refused += 1
                else:
                    body = timetable_body(facts, timetable, rules, today, sentence)
                    self.stdout.write(json.dumps(body, ensure_ascii=False))
        return refused


def lines_of(file: BinaryIO) -> Iterator[bytes]:
    """The lines of a file, empty ones too; of an endless line only so much as shows that it is one."""
    while line := file.readline(MOST_BYTES + 1):
        yield line
        while len(line) > MOST_BYTES and not line.endswith(b"\n"):
            line = file.readline(MOST_BYTES + 1)


def read_rules(name: str) -> RuleSet:
    """A shipped rule set by name, or one from a JSON file. Raises Refusal, OSError."""
    if name in RULE_SETS:
        return shipped_rules(name)
    if not name.endswith(".json"):
        raise CommandError(f"There are no rules “{name}”; give {', '.join(RULE_SETS)} or a JSON file.")
    try:
        return RuleSet.from_json(json.loads(text_of(name)))
    except json.JSONDecodeError as error:
        raise CommandError(f"{name} is not JSON: {error}.") from error


def read_closed(name: str | None) -> tuple[Closed, ...]:
    return read_closed_days(text_of(name).splitlines()) if name else ()


def text_of(name: str) -> str:
    try:
        return Path(name).read_text("utf-8-sig")
    except UnicodeDecodeError as error:
        raise CommandError(f"{name} is not UTF-8; save it as UTF-8.") from error
