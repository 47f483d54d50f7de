"""The facts of an episode and of its patient, in words, and the warnings that stand on every page about them."""

from collections.abc import Sequence

from django.utils.translation import gettext as _

from caseload.models import Episode, Patient, Work
from caseload.parsing import Risk
from caseload.timetable.terms import Digit, Mark, Side, Suture, Technique
from caseload.wording import label, say_date

Pairs = list[tuple[str, str]]
UNKNOWN = "–"


def facts_in_words(episode: Episode) -> Pairs:
    """Each fact of the episode with its name, unknown ones too: what is missing is to be seen."""
    referral = episode.referral
    return [
        (_("Surgery date"), say_date(episode.surgery_on) if episode.surgery_on else UNKNOWN),
        (_("Hand"), label(Side(episode.side)) if episode.side else UNKNOWN),
        (_("Finger"), label(Digit(episode.digit)) if episode.digit else UNKNOWN),
        (_("Technique"), label(Technique(episode.technique))),
        (_("Suture"), label(Suture(episode.suture)) + (f", {episode.material}" if episode.material else "")),
        (_("Stitches put in"), UNKNOWN if episode.stitches_in is None else str(episode.stitches_in)),
        (_("Surgeon"), episode.surgeon or UNKNOWN),
        (_("Site"), str(episode.site)),
        (_("Therapist"), episode.therapist.name if episode.therapist else UNKNOWN),
        (_("Referral"), f"{say_date(referral.received_on)}, {referral.source}" if referral else UNKNOWN),
        (_("Transferred in on"), say_date(episode.arrived_on) if episode.arrived_on else _("not transferred in")),
        (_("Referred for therapy"), _("yes") if episode.for_therapy else _("no")),
        (_("What may slow healing"), _risks(episode) or _("nothing known")),
        (_("Raised risk"), _("yes") if episode.raised_risk else _("no")),
        (_("Dominant hand"), label(Side(episode.dominant)) if episode.dominant else UNKNOWN),
        (_("Work"), Work(episode.work).label if episode.work else UNKNOWN),
        (_("Notes"), episode.notes or UNKNOWN),
    ]


def _risks(episode: Episode) -> str:
    return ", ".join(label(Risk(risk)) for risk in episode.risks if risk in list(Risk))


def person_in_words(patient: Patient) -> Pairs:
    return [
        (_("Birth date"), say_date(patient.born_on) if patient.born_on else UNKNOWN),
        (_("Telephone"), patient.phone or UNKNOWN),
        (_("E-mail"), patient.email or UNKNOWN),
        (_("Agrees to e-mail"), _("yes") if patient.email_consent else _("no")),
        (_("Postal address"), ", ".join(patient.postal_address.split("\n")) if patient.postal_address else UNKNOWN),
        (_("Preferred language"), patient.language or UNKNOWN),
        (_("Interpreter"), _("needed") if patient.interpreter else _("not needed")),
        (_("Dressing allergy"), patient.dressing_allergy or _("none known")),
    ]


def warnings_about(patient: Patient, namesakes: Sequence[Patient]) -> list[str]:
    """What to mind about the person, whatever the episode."""
    said = []
    if patient.dressing_allergy:
        said.append(_("Dressing allergy: %(what)s") % {"what": patient.dressing_allergy})
    if patient.interpreter:
        said.append(_("Interpreter: %(language)s") % {"language": patient.language or _("language not known")})
    if namesakes:
        said.append(_("Same name on the caseload: confirm the birth date"))
    return said


def warnings_of(episode: Episode, marks: Sequence[Mark]) -> list[str]:
    """What to mind about this hand."""
    said = []
    if episode.raised_risk:
        said.append(_("Raised risk: %(why)s") % {"why": _risks(episode) or _("no reason recorded")})
    elif risks := _risks(episode):
        said.append(_("May heal slowly: %(why)s") % {"why": risks})
    return said + [label(mark).capitalize() for mark in marks]
