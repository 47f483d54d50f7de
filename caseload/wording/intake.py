"""The fields of a theatre list, and what one of its rows would change, in words."""

from datetime import date
from enum import StrEnum
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from caseload.parsing import Priority
from caseload.timetable.terms import Digit, Side, Suture, Technique
from caseload.wording.dates import say_date
from caseload.wording.labels import label

FIELDS: Final = {
    "given": gettext_lazy("given name"),
    "family": gettext_lazy("family name"),
    "name": gettext_lazy("whole name"),
    "name_given_first": gettext_lazy("whole name, given name first"),
    "name_family_first": gettext_lazy("whole name, family name first"),
    "born_on": gettext_lazy("birth date"),
    "nhs_number": gettext_lazy("NHS number"),
    "hospital_number": gettext_lazy("hospital number"),
    "phone": gettext_lazy("telephone"),
    "email": gettext_lazy("e-mail"),
    "surgery_on": gettext_lazy("surgery date"),
    "side": gettext_lazy("hand"),
    "digit": gettext_lazy("finger"),
    "technique": gettext_lazy("technique"),
    "suture": gettext_lazy("suture"),
    "material": gettext_lazy("suture material"),
    "stitches_in": gettext_lazy("stitches put in"),
    "surgeon": gettext_lazy("surgeon"),
    "site": gettext_lazy("site"),
    "raised_risk": gettext_lazy("raised risk"),
    "risks": gettext_lazy("what may slow healing"),
    "for_therapy": gettext_lazy("referred for therapy"),
    "priority": gettext_lazy("priority"),
    "referral_received_on": gettext_lazy("referral received"),
    "language": gettext_lazy("language"),
    "interpreter": gettext_lazy("interpreter"),
    "notes": gettext_lazy("notes"),
}
"""The fields of a theatre list, in the order in which a list is mostly written."""


def say_field(field: str) -> str:
    return str(FIELDS.get(field, field.replace("_", " ")))


def say_change(field: str, was: str, now: str) -> str:
    """A field that a row corrects: "suture: stitches not known becomes non-absorbable stitches"."""
    said = {"field": say_field(field), "was": _word(field, was), "now": _word(field, now)}
    return _("%(field)s: %(was)s becomes %(now)s") % said


def say_opening(digit: str) -> str:
    return _("Opens an episode: %(finger)s.") % {"finger": label(Digit(digit))}


def _word(field: str, value: str) -> str:
    if not value:
        return _("nothing")
    if field in _DAYS:
        return say_date(date.fromisoformat(value))
    kind = _WORDS.get(field)
    return label(kind(value)) if kind else value


_WORDS: Final[dict[str, type[StrEnum]]] = {
    "suture": Suture, "technique": Technique, "side": Side, "digit": Digit, "priority": Priority,
}  # fmt: skip
_DAYS: Final = frozenset({"born_on", "surgery_on", "referral_received_on"})
