"""The visits of an episode that did not take place."""

from django.db.models import Prefetch

from caseload.models import Appointment, Episode, Purpose
from caseload.timetable.terms import Outcome

MISSED = (Outcome.DID_NOT_ATTEND, Outcome.CANCELLED_BY_PATIENT, Outcome.CANCELLED_BY_CLINIC)


def missed_visits(episode: Episode) -> list[Appointment]:
    """Missed or cancelled, by either side, the earliest first; each with `serving`, what it was for of this episode.
    Two queries."""
    own = Purpose.objects.filter(follow_up__episode=episode).select_related("follow_up")
    rows = Appointment.objects.filter(purposes__follow_up__episode=episode, outcome__in=MISSED).distinct()
    return list(
        rows.prefetch_related(Prefetch("purposes", own, to_attr="serving")).order_by("on", "start_minute", "pk")
    )
