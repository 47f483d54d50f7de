"""The plan sheet as a file, made in the background from the template that the page shows.

`caseload.apps` imports this, so that every process knows the kind of job.
"""

from datetime import date

from django.template.loader import render_to_string
from django.utils import timezone, translation
from django.utils.translation import gettext as _

from caseload.access import Act
from caseload.actions.jobs import Steps, kind
from caseload.actions.sheets import KIND
from caseload.actions.yours import not_yours
from caseload.errors import Refusal
from caseload.models import Episode, Job, JobFile
from caseload.outreach import pdf
from caseload.outreach.plan_sheet import PlanSheet, plan_sheet
from caseload.reads.reach import reached
from caseload.reads.timetables import with_sources

NAME = "plan-sheet.pdf"
"""Says nothing of the patient: it ends up among the downloads of whoever asked."""


@kind(KIND, asks=Act.PLAN_SHEET_MAKE)
def make(job: Job) -> Steps:
    """Write the sheet of the day on which it was asked for. Made again, it replaces the file; where there is no sheet
    to be made any more, the answer says why."""
    yield 0, 2
    try:
        page = _page(job)
    except Refusal as refusal:
        return refusal.message
    yield 1, 2
    file = {"name": NAME, "media_type": "application/pdf", "content": pdf.make_pdf(page)}
    JobFile.objects.update_or_create(job=job, defaults=file)
    yield 2, 2
    return _("The plan sheet is ready.")


def _page(job: Job) -> str:
    episode = with_sources(Episode.objects.select_related("patient")).get(code=job.asked["episode"])
    if not reached(job.by, episode.patient_id, timezone.now()):
        raise not_yours(episode.patient_id)
    with translation.override(job.asked["language"]):
        return paper(plan_sheet(episode, today=date.fromisoformat(job.asked["on"])))


def paper(sheet: PlanSheet) -> str:
    """The sheet as a page of its own, with nothing of the planner around it."""
    return render_to_string("plan_sheet/paper.html", {"sheet": sheet})
