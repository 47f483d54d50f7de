"""A saved visit: what was recorded, what it changed, what is left to do, who is next; withdrawn."""

from datetime import date, timedelta

import pytest

from caseload.actions import visits
from caseload.actions.visits import Look as Looked
from caseload.measures.bodies import Pain
from caseload.measures.terms import MeasureKind
from caseload.models import Appointment, Look, Visit
from caseload.timetable.terms import ActivityKind, AfterVisit, FindingKind, WoundState
from tests.scenario import TODAY, by

BEFORE = date(2026, 3, 20)
OUT = {"kind": FindingKind.STITCHES, "stitches_out": 4, "stitches_left": 0}
CLOSED = {"kind": FindingKind.WOUND, "wound": WoundState.CLOSED}


@pytest.fixture
def seated(clinic) -> Appointment:
    """Stitches out on day 14, in a session of the therapist."""
    episode = clinic.episode(clinic.patient(family="Seated"), surgery_on=TODAY - timedelta(days=14), today=BEFORE)
    return clinic.book([episode.follow_ups.get(key="stitches-out")], TODAY, today=BEFORE)


def recorded(clinic, appointment: Appointment, **said) -> Visit:
    episode = appointment.purposes.get().follow_up.episode
    own = {"findings": [OUT, CLOSED], "measured": {MeasureKind.PAIN: Pain(3)}, "after": AfterVisit.CONTINUE}
    look = Looked(episode, **(own | said))
    return visits.record(
        appointment.patient, by=by(clinic.therapist), on=TODAY, looks=[look], appointment=appointment,
        taught="How to bend it", note="In good spirits",
    )  # fmt: skip


def page_of(client, visit: Visit) -> str:
    return " ".join(client.get(f"/visits/{visit.code}/").content.decode().split())


def test_what_was_recorded_stands_in_words_and_is_signed(clinic, therapist, seated):
    page = page_of(therapist, recorded(clinic, seated, started=[ActivityKind.LIGHT_TASKS]))
    for said in ("4 stitches out, none left", "Wound closed", "pain 3 of 10", "Light tasks", "continue as timetabled",
                 "How to bend it", "In good spirits", "Signed by Thea Marsh", "day 14"):  # fmt: skip
        assert said in page


def test_what_it_changed_stays_readable(clinic, therapist, seated):
    page = page_of(therapist, recorded(clinic, seated))
    print(page[page.index("What it changed"):][:1500])
    assert "Stitches out" in page[page.index("What it changed") :]


def test_looking_at_it_is_recorded(clinic, therapist, seated):
    page_of(therapist, recorded(clinic, seated))
    assert Look.objects.get(route="visit").patient == seated.patient
