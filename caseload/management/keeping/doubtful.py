"""What nobody can know from a backup: whether an e-mail that was waiting went out after the backup was taken.

Those that are due when it is restored may have gone out. Sent now, a patient might get a second one; kept back, nobody
is lost: a reminder goes to the call list, and whoever waits for news is on the list of those to be told already.
"""

from datetime import datetime
from typing import Final

from django.conf import settings
from django.db.models import Max, QuerySet
from django.utils import timezone

from caseload.actions.act import By
from caseload.actions.notices import record_failure
from caseload.booking.notices import Channel
from caseload.models import Job, Notice, NoticeState, TrailEntry

ORIGIN: Final = "command restore"
RESTORED: Final = "restored from a backup"
WAY_OUT: Final = (
    "E-mails that were due: {count}. They are not sent from here, since they may have gone out after the backup was "
    "taken: reminders are on the call list, news is on the list of those to be told."
)


def due(now: datetime) -> QuerySet[Notice]:
    """E-mails that would go out at once, those that are to be tried again among them."""
    return _e_mails().filter(due_at__lte=now).order_by("pk")


def _e_mails() -> QuerySet[Notice]:
    return Notice.objects.filter(state=NoticeState.WAITING, channel=Channel.EMAIL)


def hold(now: datetime) -> int:
    """Keep back every e-mail that is due; give back how many."""
    by, held = By(None, now, timezone.localdate(now), origin=ORIGIN), list(due(now))
    for notice in held:
        record_failure(notice, by=by, error=RESTORED, lasting=True)
    return len(held)


def say_open(now: datetime, held: int) -> list[str]:
    """What somebody has to know before the planner is started on what was restored."""
    acts = TrailEntry.objects.exclude(at=now, origin=ORIGIN)
    latest = acts.aggregate(latest=Max("at"))["latest"]
    said = [f"The last act in it is of {timezone.localtime(latest):%d %b %Y, %H:%M}."] if latest else []
    if held:
        said.append(WAY_OUT.format(count=held))
    if (waiting := _e_mails().count()) and settings.MAIL_URL:
        said.append(
            f"E-mails that will be sent from here: {waiting}; where this is only tried, unset CASELOAD_MAIL_URL."
        )
    if letters := Notice.objects.filter(state=NoticeState.WAITING, channel=Channel.LETTER).count():
        said.append(f"Letters that wait: {letters}; look whether they were posted before they are printed again.")
    if jobs := Job.objects.filter(ended_at__isnull=True).count():
        said.append(f"Work in progress that is not done: {jobs}; it goes on where it was.")
    return said
