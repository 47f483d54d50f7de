"""A patient whose name, numbers, addresses and notes are found again wherever they turn up."""

from dataclasses import fields
from itertools import count
from typing import Any

from caseload.models import Episode, Patient
from tests.scenario import Fernhollow

WORD = "Zqx"
"""Begins every planted word; no page, key or code of ours has it, since codes are written small."""
PHONE = "07700 900987"
PLANTED = (WORD, "7700900987", "900987", "9990000069")
_number = count(1)


class Planted(Fernhollow):
    """A clinic all of whose patients carry the marks: only the first has the NHS number."""

    @classmethod
    def over(cls, clinic: Fernhollow) -> "Planted":
        return cls(**{field.name: getattr(clinic, field.name) for field in fields(Fernhollow)})

    def patient(self, **own: Any) -> Patient:
        number = next(_number)
        marked = {
            "given": f"{WORD}given", "family": f"{WORD}family", "phone": PHONE, "email": f"{WORD}@example.org",
            "postal_address": f"1 {WORD} Lane\nFernhollow", "dressing_allergy": f"{WORD} plaster",
            "hospital_number": f"{WORD}{number}",
        }  # fmt: skip
        if not Patient.objects.filter(identifiers__value="9990000069").exists():
            marked["nhs_number"] = "9990000069"
        return super().patient(**(marked | own))

    def episode(self, patient: Patient | None = None, **facts: Any) -> Episode:
        return super().episode(patient, **({"notes": f"{WORD} note"} | facts))


def found_in(text: str | bytes) -> set[str]:
    """Which of the marks stand in a text, in whatever case."""
    said = (text.decode("utf-8", "replace") if isinstance(text, bytes) else text).lower()
    return {mark for mark in PLANTED if mark.lower() in said}
