"""What staff should mind before a plan sheet is handed out: on the page above it, never on the sheet."""

from datetime import date

from django.utils.translation import gettext as _

from caseload.models import Episode
from caseload.models.appointments import Told
from caseload.outreach.plan_sheet import PlanSheet
from caseload.reads.to_come import visits_to_come
from caseload.wording.appointments import say_time

OURS = "english"
"""How the language of the sheets begins where it is noted as the preferred language of a patient."""


def mind(episode: Episode, sheet: PlanSheet, *, today: date) -> list[str]:
    """Sentences, the most pressing first; two queries."""
    patient, said = episode.patient, []
    if not episode.surgery_on:
        said.append(_("The day of the operation is not known, so the sheet can say no days."))
    if not patient.born_on:
        said.append(_("The birth date is not known: is it a child, whose parent or guardian should have the sheet?"))
    for visit in visits_to_come(patient, today=today):
        if visit.told == Told.UNTOLD:
            said.append(_("Not told yet of %(time)s: say it now, and record it.") % {"time": say_time(visit)})
    if not sheet.booked:
        said.append(_("Nothing is booked for this finger."))
    if sheet.provisional:
        said.append(_("Some days may change; the sheet says so beside each."))
    if not episode.site.telephone:
        about = _("%(site)s has no telephone number here, so the sheet names none: write it in.")
        said.append(about % {"site": episode.site})
    if patient.language and not patient.language.lower().startswith(OURS):
        said.append(_("Preferred language: %(language)s. The sheet is in English.") % {"language": patient.language})
    return said
