"""A patient whose name, numbers, addresses and notes are found again wherever they turn up."""

from collections.abc import Iterator
from dataclasses import dataclass, field, fields
from datetime import date, timedelta
from itertools import product
from typing import Any

from caseload.actions import (
    contacts,
    drafts,
    episodes,
    findings,
    instructions,
    intake,
    jobs,
    notices,
    patient_files,
    patients,
    referrals,
    reviews,
    sheets,
    visits,
)
from caseload.actions.confirming import confirm
from caseload.actions.looks import looked
from caseload.models import BreakGlass, Episode, Patient, WorkedOn
from caseload.reads.held import PARTS, whose
from caseload.timetable.terms import Ending
from tests.record.acts import CALLS
from tests.record.before import line, noticed
from tests.scenario import TODAY, Fernhollow, by

WORD = "Ziloruq"
"""Begins every planted word; no code of ours can have it, since none has i, l, o or u."""
NHS_NUMBER = "9990000069"
PLANTED = (WORD, "7700900987", "7700 900987", NHS_NUMBER)
FACTS = {
    "given": f"{WORD}given", "family": f"{WORD}family", "phone": "07700 900987", "email": f"{WORD}@example.org",
    "email_consent": True, "postal_address": f"1 {WORD} Lane\nFernhollow", "dressing_allergy": f"{WORD} plaster",
    "nhs_number": NHS_NUMBER, "hospital_number": f"{WORD}1",
}  # fmt: skip


def _hands() -> Iterator[tuple[date, str, str]]:
    days = (date(2026, 3, 20), date(2026, 3, 19), date(2026, 3, 18))
    yield from product(days, ("right", "left"), ("thumb", "index", "middle", "ring", "little"))


@dataclass
class Planted(Fernhollow):
    """A clinic all of whose episodes are of one patient, who carries the marks; each is of another hand or day."""

    hands: Iterator[tuple[date, str, str]] = field(default_factory=_hands)
    one: Patient | None = None

    @classmethod
    def over(cls, clinic: Fernhollow) -> "Planted":
        return cls(**{each.name: getattr(clinic, each.name) for each in fields(Fernhollow)})

    def patient(self, **own: Any) -> Patient:
        if self.one is None:
            self.one = super().patient(**(FACTS | own))
        return self.one

    def episode(self, patient: Patient | None = None, **facts: Any) -> Episode:
        on, side, digit = next(self.hands)
        own = {"notes": f"{WORD} note", "surgery_on": on, "side": side, "digit": digit, "surgeon": "Dr Vane"}
        return super().episode(patient or self.patient(), **(own | facts))


ACTS = (
    referrals.add, visits.record, findings.countersign, findings.escalate, findings.close_red_flag, instructions.give,
    reviews.complete, contacts.log, patient_files.ask,
)  # fmt: skip
LIST = (
    "NHS number,Surname,First name,Surgery date,Side,Digit\n"
    f"{NHS_NUMBER},{WORD}family,{WORD}given,2026-03-21,left,ring\n"
)


def lived(clinic: Fernhollow) -> Planted:
    """The planted patient with a row in every table that can hold one."""
    planted = Planted.over(clinic)
    planted.lead.is_therapist = planted.lead.is_admin = True
    planted.lead.save()
    lead = by(planted.lead)
    for act in ACTS:
        CALLS[act](planted, lead)
    notices.record_sent(noticed(planted, "email"), by=lead, to=FACTS["email"], text=f"Dear {WORD}")
    plan = line(planted)
    patient, code = plan.patient, plan.patient.code
    looked(patient, by=lead, route="patient")
    drafts.keep(planted.lead, f"/patients/{code}/contacts/new/", {"text": [f"{WORD} typed"]}, lead.at)
    WorkedOn.objects.create(patient=patient, by=planted.lead, at=lead.at)
    BreakGlass.objects.create(
        at=lead.at, by=planted.lead, patient=patient, why="asked", until_at=lead.at + timedelta(1)
    )
    batch = intake.upload(LIST.encode(), file_name="list.csv", by=lead, site=planted.site)
    confirm(batch, by=lead, version=None)
    patients.correct(patient, by=lead, version=None, family=f"{WORD}other")
    jobs.run_due_jobs(9)
    sheets.ask(patient.episodes.first(), language="en-gb", by=lead)
    empty = [part.model.__name__ for part in PARTS if not part.rows(whose(patient)).exists()]
    assert not empty, f"nothing planted in {empty}"
    return planted


def over_and_done(planted: Planted) -> Patient:
    """The patient, of whom nothing is open any more: a death closes everything at once."""
    episode = planted.patient().episodes.open().earliest("pk")
    episodes.close(episode, by=by(planted.lead), version=None, how=Ending.DIED, on=TODAY)
    return planted.patient()


def found_in(text: str | bytes) -> set[str]:
    """Which of the marks stand in a text, in whatever case."""
    said = (text.decode("utf-8", "replace") if isinstance(text, bytes) else text).lower()
    return {mark for mark in PLANTED if mark.lower() in said}
