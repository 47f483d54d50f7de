"""What was in the way of a command: one sentence on standard error, and exit status 1."""

from collections.abc import Iterator
from contextlib import contextmanager

from django.core.management.base import CommandError
from django.db import DatabaseError

from caseload.errors import Refusal
from caseload.management.keeping.saying import say_trouble


@contextmanager
def refusals_said() -> Iterator[None]:
    try:
        yield
    except Refusal as refusal:
        raise CommandError(refusal.message) from refusal


@contextmanager
def failures_said(nothing: str) -> Iterator[None]:
    """A refusal; or, where there is no room or no database, `nothing` of what was done, and why."""
    with refusals_said():
        try:
            yield
        except OSError as error:
            raise CommandError(f"{nothing}: {error.strerror}.") from error
        except DatabaseError as error:
            raise CommandError(f"{nothing}. {say_trouble(error)}.") from error
