"""Long work, as those who asked for it see it; a lead sees all of it."""

from collections.abc import Set

from django.db.models import Exists, OuterRef, QuerySet

from caseload.models import Job, JobFile, Staff
from caseload.timetable.terms import Owner

MOST = 50


def deriving() -> Job | None:
    """The job that derives every date anew, while it waits or runs."""
    return Job.objects.filter(kind="rederive", ended_at__isnull=True).order_by("id").first()


def seen_by(staff: Staff, roles: Set[Owner]) -> QuerySet[Job]:
    """The jobs that somebody may look at, the latest first; `has_file` says that there is a file of theirs to fetch."""
    found = Job.objects.select_related("by").annotate(has_file=Exists(JobFile.objects.filter(job=OuterRef("pk"))))
    return found if Owner.LEAD in roles else found.filter(by=staff)
