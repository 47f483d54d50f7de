"""A month of waits that the lead filed, and what was put right after it: so there is something to be restated."""

from datetime import timedelta
from typing import Final

from caseload.actions import filing, referrals
from caseload.actions.act import By
from caseload.demo.stage import ORIGIN, Stage
from caseload.models import Referral
from caseload.waits.rows import months_earlier

PUT_RIGHT: Final = timedelta(days=6)
"""So many days before, the referral had come by post."""


def file_a_month(stage: Stage) -> None:
    """The month before the last whole one; then a referral of it turns out to have been received earlier.

    It is the figures as they stand now that are filed: the stories are told, not remembered day by day.
    """
    month = months_earlier(stage.today.replace(day=1), 2)
    said = Referral.objects.filter(received_on__year=month.year, received_on__month=month.month, ended_on=None)
    late = said.order_by("received_on", "pk").first()
    if late is None:
        return
    filing.file_month(month, by=By(stage.lead, stage.now - timedelta(hours=2), stage.today, origin=ORIGIN))
    by = By(stage.admin(_site(late, stage)), stage.now - timedelta(hours=1), stage.today, origin=ORIGIN)
    referrals.correct(late, by=by, version=None, received_on=late.received_on - PUT_RIGHT)


def _site(referral: Referral, stage: Stage) -> str:
    """The site of the referral's first episode, else the larger one."""
    episode = referral.episodes.select_related("site").order_by("pk").first()
    return episode.site.name if episode else next(iter(stage.sites))
