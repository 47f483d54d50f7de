"""The schedule: plain UTC ticks as rows. Whoever's conditional update moves a row runs it, so two clocks do it once."""

from collections.abc import Callable
from datetime import datetime, timedelta

from caseload.actions.dating import make_nightly
from caseload.actions.drafts import forget_old
from caseload.actions.intake import forget_old_uploads
from caseload.actions.jobs import forget_files
from caseload.actions.rederive import ask_nightly
from caseload.models import Submission, Tick

KEYS_KEPT = timedelta(days=2)


def forget_keys(now: datetime) -> None:
    """A form is not sent again after two days."""
    Submission.objects.filter(at__lt=now - KEYS_KEPT).delete()


SCHEDULE: dict[str, tuple[timedelta, Callable[[datetime], None]]] = {
    "forget-drafts": (timedelta(hours=6), forget_old),
    "forget-files": (timedelta(hours=1), forget_files),
    "forget-keys": (timedelta(hours=6), forget_keys),
    "forget-uploads": (timedelta(hours=6), forget_old_uploads),
    "make-sessions": (timedelta(hours=24), make_nightly),
    "nightly-rederive": (timedelta(hours=24), ask_nightly),
}


def run_due_ticks(now: datetime) -> int:
    """Run what is due and give back how many ran. A period that was missed is run once, not once for each."""
    due_at = dict(Tick.objects.values_list("name", "due_at"))
    due = [name for name in SCHEDULE if due_at.get(name, now) <= now]
    return sum(_run(name, now) for name in due)


def _run(name: str, now: datetime) -> bool:
    period, do = SCHEDULE[name]
    Tick.objects.get_or_create(name=name, defaults={"due_at": now})
    won = Tick.objects.filter(name=name, due_at__lte=now).update(due_at=now + period)
    if won:
        do(now)
    return bool(won)
