"""What the background work has before it, and when each part of it last showed that it is alive. Counts, no rows."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from django.db.models import Count, Min, Q

from caseload.booking.notices import Channel
from caseload.models import Job, JobState, Notice, NoticeState, Pulse, Tick

FAILED_WITHIN: Final = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Backlog:
    """`waiting` and `due` notices by channel, with the seconds for which the oldest has been due; jobs by state, those
    that failed within a day; the seconds since each pulse, and for which each tick is overdue.
    """

    waiting: dict[str, int]
    due: dict[str, int]
    oldest_due: dict[str, float]
    jobs: dict[str, int]
    oldest_job: float
    pulses: dict[str, float]
    ticks: dict[str, float]


def backlog(now: datetime) -> Backlog:
    """In four queries, whatever the number of rows."""
    due = Q(due_at__lte=now)
    rows = Notice.objects.filter(state=NoticeState.WAITING).order_by().values("channel")
    rows = rows.annotate(waiting=Count("pk"), ready=Count("pk", filter=due), oldest=Min("due_at", filter=due))
    counted = {row["channel"]: (row["waiting"], row["ready"], row["oldest"]) for row in rows}
    by_channel = {str(channel): counted.get(channel, (0, 0, None)) for channel in Channel}
    jobs, oldest_job = _jobs(now)
    return Backlog(
        waiting={channel: waiting for channel, (waiting, _, _) in by_channel.items()},
        due={channel: ready for channel, (_, ready, _) in by_channel.items()},
        oldest_due={channel: since(oldest, now) for channel, (_, _, oldest) in by_channel.items()},
        jobs=jobs,
        oldest_job=oldest_job,
        pulses={name: since(at, now) for name, at in Pulse.objects.values_list("name", "at")},
        ticks={name: since(due_at, now) for name, due_at in Tick.objects.values_list("name", "due_at")},
    )


def _jobs(now: datetime) -> tuple[dict[str, int], float]:
    """How many wait, run and failed of late, and how long the oldest has been waiting."""
    failed = Q(state=JobState.FAILED, ended_at__gte=now - FAILED_WITHIN)
    rows = Job.objects.filter(Q(ended_at__isnull=True) | failed).order_by().values("state")
    counted = rows.annotate(count=Count("pk"), oldest=Min("created_at"))
    found = {row["state"]: (row["count"], row["oldest"]) for row in counted}
    states = (JobState.WAITING, JobState.RUNNING, JobState.FAILED)
    counts = {str(state): found.get(state, (0, None))[0] for state in states}
    return counts, since(found.get(JobState.WAITING, (0, None))[1], now)


def since(at: datetime | None, now: datetime) -> float:
    """Seconds since `at`; 0 where there is none or it lies ahead."""
    return max(0.0, (now - at).total_seconds()) if at else 0.0
