"""The schedule: ticks as rows, due and moved by the database's clock. Whoever's conditional update moves a row runs it.

A rhythm is counted in universal time, so a change of the clocks leaves nothing out and does nothing twice; it stands on
a grid, so that what is nightly stays nightly. The move and the work are one transaction: a process that dies in between
has moved nothing, and the next clock runs the tick. So a tick is brief, and safe to repeat; long work it only asks for.
"""

import logging
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import NamedTuple

from django.contrib.sessions.models import Session
from django.db import transaction
from django.db.models.functions import Now

from caseload.actions.dating import make_nightly
from caseload.actions.drafts import forget_old
from caseload.actions.intake import forget_old_uploads
from caseload.actions.jobs import forget_files
from caseload.actions.notices import withdraw_expired
from caseload.actions.rederive import ask_nightly
from caseload.actions.sealing import seal
from caseload.actions.trail_files import check_nightly
from caseload.actions.turns import in_turn
from caseload.models import Pulse, Submission, Tick

KEYS_KEPT = timedelta(days=2)
PULSES_KEPT = timedelta(days=1)
RETRY = timedelta(minutes=1)
EPOCH = datetime(2000, 1, 1, tzinfo=UTC)
"""Midnight; a tick that has never run has been due since then."""

log = logging.getLogger("caseload.ticks")


class Rhythm(NamedTuple):
    """Every `period`, counted from `offset` after midnight, universal time."""

    period: timedelta
    offset: timedelta = timedelta()

    def after(self, at: datetime) -> datetime:
        """The first instant of the rhythm that lies after `at`."""
        return at - (at - EPOCH - self.offset) % self.period + self.period


def every(*, minutes: int = 0, hours: int = 0) -> Rhythm:
    return Rhythm(timedelta(hours=hours, minutes=minutes))


def nightly(*, hour: int) -> Rhythm:
    return Rhythm(timedelta(days=1), timedelta(hours=hour))


def forget_keys(now: datetime) -> None:
    """A form is not sent again after two days."""
    Submission.objects.filter(at__lt=now - KEYS_KEPT).delete()


def forget_pulses(now: datetime) -> None:
    """What has been silent for a day was taken away on purpose, or somebody has seen to it."""
    Pulse.objects.filter(at__lt=now - PULSES_KEPT).delete()


def forget_sessions(now: datetime) -> None:
    """A session that has run out is of nobody."""
    Session.objects.filter(expire_date__lt=now).delete()


SCHEDULE: dict[str, tuple[Rhythm, Callable[[datetime], object]]] = {
    "check-trail": (nightly(hour=3), check_nightly),
    "forget-drafts": (every(hours=6), forget_old),
    "forget-files": (every(hours=1), forget_files),
    "forget-keys": (every(hours=6), forget_keys),
    "forget-pulses": (every(hours=6), forget_pulses),
    "forget-sessions": (every(hours=6), forget_sessions),
    "forget-uploads": (every(hours=6), forget_old_uploads),
    "make-sessions": (nightly(hour=1), make_nightly),
    "nightly-rederive": (nightly(hour=2), ask_nightly),
    "seal-trail": (every(minutes=5), seal),
    "withdraw-expired": (every(minutes=10), withdraw_expired),
}


def run_due_ticks() -> int:
    """Run what is due and give back how many ran. A period that was missed is run once, not once for each."""
    return sum(_run(name, due_at, now) for name, due_at, now in _read() if due_at <= now)


def _read() -> list[tuple[str, datetime, datetime]]:
    """Each tick of the schedule, when it is due, and what the database's clock says; rows that are missing are made."""
    ticks = Tick.objects.filter(name__in=SCHEDULE).order_by("name").annotate(now=Now())
    found = list(ticks.values_list("name", "due_at", "now"))
    missing = SCHEDULE.keys() - {name for name, *_ in found}
    if not missing:
        return found
    Tick.objects.bulk_create([Tick(name=name, due_at=EPOCH) for name in missing], ignore_conflicts=True)
    return list(ticks.values_list("name", "due_at", "now"))


def _run(name: str, due_at: datetime, now: datetime) -> bool:
    """Win the tick and do its work, or neither. One that fails holds up no other, and is tried again in a minute."""
    rhythm, do = SCHEDULE[name]
    try:
        with in_turn(), transaction.atomic():
            won = _move(name, due_at, rhythm.after(now))
            if won:
                do(now)
    except Exception:
        log.exception("The tick %s failed; trying again in %s s", name, RETRY.seconds)
        _move(name, due_at, now + RETRY)
        return False
    return won


def _move(name: str, due_at: datetime, to: datetime) -> bool:
    """Whether the tick was still due as it was read, by the database's clock, and is now due at `to`."""
    return bool(Tick.objects.filter(name=name, due_at=due_at, due_at__lte=Now()).update(due_at=to))
