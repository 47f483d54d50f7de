"""The clinic of a drill: people with passwords, patients who can be written to, and room for each in the diary.

Its sites lie where it is about noon just now, so that notices go out at whatever hour a drill is run.
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tests.scenario import Fernhollow

PASSWORD = "drill-drill-drill"
PATIENTS = 10
SLOTS = 20
"""A session from 08:00 in steps of 20 minutes."""


@dataclass
class Desk:
    """One person with their own patients and their own places: nobody is refused because of another."""

    username: str
    cases: list["Case"]
    places: list[str]


@dataclass
class Case:
    """`patient` and `episode` are codes; `follow_up` names what is to be booked as a form does."""

    patient: str
    episode: str
    follow_up: str


def prepare() -> None:
    from django.core.management import call_command

    call_command("migrate", interactive=False, verbosity=0)
    call_command("collectstatic", interactive=False, verbosity=0)


def zone_of_noon(now: datetime) -> str:
    """The zone in which it is between 12 and 13 o'clock; those of the list of zones count westward as positive."""
    west = now.astimezone(UTC).hour - 12
    return f"Etc/GMT{west:+d}"


def clinic(desks: int) -> list[Desk]:
    from django.db import transaction

    from caseload.models import Holiday, Region, Site
    from tests.scenario import fernhollow

    today = date.today()
    with transaction.atomic():
        there = fernhollow()
        Site.objects.update(zone=zone_of_noon(datetime.now(tz=UTC)))
        there.site.refresh_from_db()
        Holiday.objects.all().delete()
        Region.objects.update(covered_until=today + timedelta(days=800))
        return [_desk(there, number, today) for number in range(desks)]


def _desk(there: "Fernhollow", number: int, today: date) -> Desk:
    from caseload.models import Staff

    person = Staff(username=f"desk{number}", name=f"Desk {number}", is_admin=True)
    person.set_password(PASSWORD)
    person.save()
    therapist = Staff.objects.create(username=f"hands{number}", name=f"Hands {number}", is_therapist=True, password="!")
    days = [day for day in (today + timedelta(days=ahead) for ahead in range(8, 13)) if day.weekday() < 5][:2]
    sessions = [there.session(day, start=480, end=480 + 20 * SLOTS, therapist=therapist) for day in days]
    places = [f"{session.code}/{480 + 20 * slot}" for session in sessions for slot in range(SLOTS)]
    return Desk(person.username, [_case(there, number, each, today) for each in range(PATIENTS)], places)


def _case(there: "Fernhollow", desk: int, number: int, today: date) -> Case:
    patient = there.patient(email=f"patient{desk}.{number}@example.org", email_consent=True, postal_address="1 High St")
    episode = there.episode(patient, today=today, surgery_on=today - timedelta(days=4))
    row = episode.follow_ups.get(key="stitches-out")
    return Case(patient.code, episode.code, f"{episode.code}/{row.key}")
