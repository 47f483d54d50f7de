"""After a change of sessions: derive again what those days may touch."""

from collections.abc import Iterable
from datetime import date

from caseload.actions.settle import BATCH, settle_keys
from caseload.models import FollowUp


def resettle(sites: Iterable[int], first: date, last: date) -> int:
    """Settle the episodes of some sites with a due visit whose window touches the days; give back how many."""
    touched = FollowUp.objects.due().filter(
        episode__site__in=set(sites), episode__ended_on__isnull=True, minutes__gt=0,
        earliest_on__lte=last, latest_on__gte=first,
    )  # fmt: skip
    ids = sorted(set(touched.values_list("episode_id", flat=True)))
    for start in range(0, len(ids), BATCH):
        settle_keys(ids[start : start + BATCH])
    return len(ids)
