"""The plan sheet as a file: asked for here, made in the background."""

from caseload.access import Act
from caseload.actions import jobs
from caseload.actions.act import By, act, trail
from caseload.models import Episode, Job

KIND = "plan-sheet"


@act(Act.PLAN_SHEET_MAKE)
def ask(episode: Episode, *, language: str, by: By) -> Job:
    """Ask for the sheet of an episode as it stands on this day, in a language. Whoever asks may fetch it."""
    person = by.person
    trail(Act.PLAN_SHEET_MAKE, episode, by=by, patient_id=episode.patient_id, changed={})
    on = by.today.isoformat()
    return jobs.ask(KIND, by=by, episode=episode.code, language=language, on=on, staff=person.pk)
