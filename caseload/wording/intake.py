"""The fields of a theatre list, and what one of its rows would change, in words."""

import re
from collections.abc import Sequence
from datetime import date
from enum import StrEnum
from typing import Final

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from caseload.parsing import Priority, Risk
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


_RECORD: Final = {
    "nhs-number": gettext_lazy("NHS number"),
    "hospital-number": gettext_lazy("hospital number"),
    "received_on": gettext_lazy("referral received"),
    "referral": gettext_lazy("referral"),
}
"""Fields that the record names otherwise than a list does."""


def say_field(field: str) -> str:
    return str({**FIELDS, **_RECORD}.get(field, field.replace("_", " ")))


def say_change(field: str, was: object, now: object) -> str:
    """A field that a row corrects: “Suture: stitches not known → non-absorbable stitches”."""
    name = say_field(field)
    said = {"field": name[:1].upper() + name[1:], "was": _word(field, was), "now": _word(field, now)}
    return _("%(field)s: %(was)s → %(now)s") % said


def say_opening(digit: str) -> str:
    return _("Opens an episode: %(finger)s.") % {"finger": label(Digit(digit))}


def say_taking(new: int, changed: int, known: int) -> str:
    """What rows that are taken do: “8 new, 3 changed, 1 already known”."""
    counts = ((new, _("%d new")), (changed, _("%d changed")), (known, _("%d already known")))
    return ", ".join(said % count for count, said in counts if count) or _("none")


def say_unread(sheets: Sequence[str]) -> str:
    """What an uploaded workbook holds beside the sheet that was read: operations there would be lost."""
    said = _("Not read, though it holds something: sheet %s.") if len(sheets) == 1 else _("Not read: sheets %s.")
    return said % ", ".join(sheets) + " " + _("If operations stand there, upload each such sheet as a list of its own.")


def _word(field: str, value: object) -> str:
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(value, list):
        return ", ".join(label(Risk(each)) for each in value) or _("nothing")
    text = str(value)
    if field in _DAYS and _ISO.fullmatch(text):
        return say_date(date.fromisoformat(text))
    kind = _WORDS.get(field)
    return label(kind(text)) if kind and text else text or _("nothing")


_ISO: Final = re.compile(r"\d{4}-\d\d-\d\d")
_WORDS: Final[dict[str, type[StrEnum]]] = {
    "suture": Suture, "technique": Technique, "side": Side, "digit": Digit, "priority": Priority,
}  # fmt: skip
_DAYS: Final = frozenset({"born_on", "surgery_on", "received_on", "referral"})
