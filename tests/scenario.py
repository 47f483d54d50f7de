"""The smallest Fernhollow for a test: one site, one region, the rules, three people, and makers for the rest."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from functools import cache
from itertools import count
from pathlib import Path
from typing import Any

from caseload.actions import appointments, episodes, patients, sessions
from caseload.actions.act import By
from caseload.actions.resettle import resettle
from caseload.actions.service import load_rules
from caseload.models import Appointment, Episode, FollowUp, Holiday, Patient, Region, RuleSet, Session, Site, Staff
from caseload.timetable.rules import RuleSet as Rules

FIXTURES = Path(__file__).resolve().parent.parent / "fixtures"
NHS_NUMBERS = ("9990000018", "9990000026", "9990000034", "9990000042", "9990000050", "9990000069")
TODAY = date(2026, 4, 1)
_number = count(1)


def by(staff: Staff | None = None, today: date = TODAY) -> By:
    return By(staff, datetime.combine(today, time(9), tzinfo=UTC), today)


@cache
def written(name: str) -> Rules:
    """Rules as the file says them. Nobody can change them, so they are read once."""
    return Rules.from_json(json.loads((FIXTURES / "rules" / f"{name}.json").read_text()))


def rules(name: str = "two-week") -> RuleSet:
    return load_rules(written(name), by=by())


@dataclass
class Fernhollow:
    """Everything that a test of the record stands on."""

    site: Site
    quay: Site
    rules: RuleSet
    therapist: Staff
    admin: Staff
    lead: Staff

    def patient(self, **fields: Any) -> Patient:
        number = next(_number)
        named = {"given": f"Given{_letters(number)}", "family": f"Family{_letters(number)}"}
        return patients.add(by=by(self.admin), **({"born_on": date(1960, 1, 2)} | named | fields))

    def episode(self, patient: Patient | None = None, *, today: date = TODAY, **facts: Any) -> Episode:
        own: dict[str, Any] = {
            "site": self.site, "therapist": self.therapist, "surgery_on": date(2026, 3, 20), "side": "right",
            "digit": "ring", "technique": "open", "suture": "non-absorbable", "stitches_in": 4, "for_therapy": True,
        }  # fmt: skip
        patient = patient or self.patient()
        own |= {"by": by(self.admin, today), "rules": self.rules}
        return episodes.open_episode(patient, **(own | facts))

    def session(self, on: date, *, start: int = 540, end: int = 740, **own: Any) -> Session:
        """A session from 09:00 with ten slots, unless said otherwise, even on a day that no act would take."""
        held = {"therapist": self.therapist, "site": self.site} | own
        session = Session(on=on, start_minute=start, end_minute=end, changed=True, **held)
        sessions.open_session(session)
        resettle({session.site_id}, on, on)
        return session

    def book(self, rows: Sequence[FollowUp], on: date, *, today: date = TODAY, **said: Any) -> Appointment:
        """Book these on a day, in the first slots free there; a session is added where the day has none.

        On the day itself not before 10:20: the clock of the tests stands at 09:00 universal time.
        """
        said = {"by": by(self.admin, today)} | said
        session = Session.objects.filter(site=rows[0].episode.site, on=on, live=True).first()
        session = session or self.session(on, site=rows[0].episode.site)
        taken = session.slots.filter(seat__isnull=False).order_by("-minute").first()
        start = taken.minute + 20 if taken else session.start_minute
        if said["by"].today == on:
            start = max(start, session.start_minute + 80)
        return appointments.book(rows, session=session, start=start, **said)


def fernhollow() -> Fernhollow:
    region = Region.objects.create(
        name="GB-ENG", title="England & Wales", covered_from=date(2020, 1, 1), covered_until=date(2027, 12, 31),
        source="test",
    )  # fmt: skip
    easter = {date(2026, 4, 3): "Good Friday", date(2026, 4, 6): "Easter Monday", date(2026, 5, 4): "Early May"}
    Holiday.objects.bulk_create(Holiday(region=region, on=on, name=name) for on, name in easter.items())
    return Fernhollow(
        site=Site.objects.create(name="Fernhollow", region=region, telephone="01632 960100"),
        quay=Site.objects.create(name="Quay Street", region=region, telephone="01632 960200"),
        rules=rules(),
        therapist=_staff("thea", is_therapist=True),
        admin=_staff("ada", is_admin=True),
        lead=_staff("lena", is_lead=True),
    )


def _staff(username: str, *, is_therapist: bool = False, is_admin: bool = False, is_lead: bool = False) -> Staff:
    # An unusable password: hashing one costs more than most tests. Clients sign in with force_login.
    return Staff.objects.create(
        username=username, name=f"{username.title()} Marsh", is_therapist=is_therapist, is_admin=is_admin,
        is_lead=is_lead,
    )  # fmt: skip


def _letters(number: int) -> str:
    return "".join(chr(ord("a") + int(digit)) for digit in str(number))
