"""One patient from the first entry to discharge, through the pages alone, with the days passing."""

from collections.abc import Iterator
from datetime import UTC, date, datetime, time

import pytest
import time_machine
from django.test import Client
from time_machine import Traveller

from caseload.models import Appointment, Episode, FollowUp, Patient
from tests.scenario import Fernhollow, fernhollow
from tests.web.posting import errors, send
from tests.web.visiting import record


@pytest.fixture
def clock() -> Iterator[Traveller]:
    with time_machine.travel(datetime(2026, 3, 20, 9, tzinfo=UTC), tick=False) as moved:
        yield moved


class Course:
    """The clinic, its clients, and the page of the one episode."""

    def __init__(self, clinic: Fernhollow, clock: Traveller) -> None:
        self.clinic, self.clock = clinic, clock
        self.admin, self.therapist = Client(), Client()
        self.sign_in()
        self.episode = ""

    def sign_in(self) -> None:
        self.admin.force_login(self.clinic.admin)
        self.therapist.force_login(self.clinic.therapist)

    def comes(self, day: date) -> None:
        """A new day, on which everybody signs in again."""
        self.clock.move_to(datetime.combine(day, time(9), tzinfo=UTC))
        self.sign_in()

    def page(self):
        return self.therapist.get(self.episode).context["page"]

    def follow_up(self, kind: str):
        return next(line for line in self.page().follow_ups if line.kind == kind and not line.row.done_on)

    def locks(self, activity: str) -> list[str]:
        return [str(lock) for lock in next(line for line in self.page().activities if line.kind == activity).locked_by]

    def records(self, **typed: str):
        """A visit: seen before it is saved, then saved as it was shown."""
        own = {f"d1_{name}": value for name, value in typed.items()}
        answer = record(self.therapist, f"{self.episode}visit/", d1_after="continue", **own)
        assert answer.status_code == 302, answer.context and errors(answer)

    def books(self, key: str, **typed: str) -> Appointment:
        assert send(self.admin, f"{self.episode}appointments/new/?for={key}", **typed).status_code == 302
        return Appointment.objects.latest("id")


@pytest.fixture
def course(db: None, clock: Traveller) -> Course:
    clinic = fernhollow()
    for day in (date(2026, 4, 2), date(2026, 4, 7), date(2026, 4, 8)):
        clinic.session(day)
    return Course(clinic, clock)


def enter(course: Course) -> None:
    """The admin enters the patient, the referral and the episode on the day of surgery."""
    answer = send(course.admin, "/patients/new/", family="Oakshott", given="Marian", born_on="17/5/1958")
    patient = Patient.objects.get()
    send(course.admin, f"{answer.url}referrals/new/", received_on="today", source="Hand surgery")
    answer = send(
        course.admin, f"{answer.url}episodes/new/", surgery_on="today", side="right", digit="ring",
        suture="non-absorbable", stitches_in="4", site=course.clinic.site.code, therapist=course.clinic.therapist.code,
    )  # fmt: skip
    episode = patient.episodes.get()
    assert episode.for_therapy, "an open referral is taken over into the episode"
    course.episode = answer.url


def test_a_patient_from_theatre_to_discharge(course: Course):
    enter(course)
    booked = course.books("stitches-out")
    assert booked.on == date(2026, 4, 2)  # worked days of the trade: surgery Fri 20 March 2026

    course.comes(date(2026, 4, 2))
    course.records(stitches_out="2", stitches_left="2", wound="closed")
    assert {"wound-closed", "stitches-out"} <= set(course.locks("scar-massage")), "stitches still hold the wound"
    assert course.follow_up("stitches-recheck").row.latest_on == date(2026, 4, 9)
    assert errors(send(course.therapist, f"{course.episode}close/", how="discharged")) == {"how": ["stitches-in"]}

    booked = course.books(course.follow_up("stitches-recheck").row.key)
    assert booked.on == date(2026, 4, 7), "not on Easter Monday"
    course.comes(date(2026, 4, 7))
    course.records(stitches_out="2", stitches_left="0", wound="closed")
    assert course.locks("scar-massage") == ["day"]
    course.comes(date(2026, 4, 8))
    assert course.locks("scar-massage") == []

    course.comes(date(2026, 4, 14))
    course.records(wound="not-closed")
    review = FollowUp.objects.get(kind="therapy-review")
    assert review.done_on == date(2026, 4, 14), "its window was open, so the visit met it as it stood ticked"
    assert course.locks("scar-massage") == ["wound-closed"]
    assert course.follow_up("wound-recheck").row.latest_on == date(2026, 4, 21)

    course.comes(date(2026, 4, 17))
    course.records(wound="closed")
    assert course.locks("scar-massage") == []

    course.comes(date(2026, 5, 1))
    assert send(course.therapist, f"{course.episode}follow-ups/outcome-review/done/").status_code == 302
    course.comes(date(2026, 5, 15))
    assert send(course.therapist, f"{course.episode}close/", how="discharged").status_code == 302
    episode = Episode.objects.get()
    assert (episode.ended_how, episode.ended_on) == ("discharged", date(2026, 5, 15))
    assert not episode.standings.exists() and not episode.follow_ups.filter(state="due").exists()
