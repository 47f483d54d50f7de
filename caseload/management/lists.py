"""What the commands that answer a list without a database share: `--help` with an example, UTF-8, plain refusals."""

import os
import sys
from argparse import RawDescriptionHelpFormatter
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from typing import Any, BinaryIO

from django.core.management.base import BaseCommand, CommandError

from caseload.management.plainly import refusals_said
from caseload.timetable.fields import read_day


class ListCommand(BaseCommand):
    """`example` stands beneath the options of `--help`, as it is written."""

    requires_system_checks: list[str] = []
    example = ""

    def create_parser(self, prog_name: str, subcommand: str, **kwargs: Any) -> Any:
        kwargs |= {"formatter_class": RawDescriptionHelpFormatter, "epilog": self.example}
        return super().create_parser(prog_name, subcommand, **kwargs)


def speak_utf8() -> None:
    for stream in (sys.stdout, sys.stderr):
        stream.reconfigure(encoding="utf-8")  # type: ignore[union-attr]


@contextmanager
def until_unread() -> Iterator[None]:
    """Whoever reads may have seen enough, as `head` does: that is no fault."""
    try:
        yield
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


@contextmanager
def said_plainly() -> Iterator[None]:
    """A refusal, or a file that cannot be opened, as one sentence on standard error."""
    with refusals_said():
        try:
            yield
        except OSError as error:
            raise CommandError(f"{error.filename}: {error.strerror}.") from error


@contextmanager
def opened(name: str) -> Iterator[BinaryIO]:
    if name == "-":
        yield sys.stdin.buffer
        return
    with said_plainly():
        file = open(name, "rb")  # noqa: SIM115 - closed below; only the opening is explained
    with file:
        yield file


def read_today(text: str) -> date:
    today = read_day(text)
    if today is None:
        raise CommandError(f"--today: “{text}” is not a day; give one such as 2026-04-01.")
    return today
