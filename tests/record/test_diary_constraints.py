"""What the database refuses of the diary, on both engines alike: no slot holds two, nobody is in two places."""

from datetime import UTC, date, datetime

import pytest

from caseload.models import Absence, Appointment, Purpose, Seat, Session, Slot, UndoStep, WeeklySession
from tests.record.test_constraints import refused
from tests.scenario import Fernhollow

NOW = datetime(2026, 4, 1, 9, tzinfo=UTC)
DAY = date(2026, 4, 2)


def seated(clinic: Fernhollow, session: Session, minute: int = 540, **own) -> Appointment:
    return Appointment.objects.create(
        patient=clinic.patient(), site=clinic.site, session=session, on=session.on, start_minute=minute, minutes=20,
        booked_at=NOW, **own,
    )  # fmt: skip


def weekly(clinic: Fernhollow, **own) -> WeeklySession:
    held = {"therapist": clinic.therapist, "site": clinic.site, "start_minute": 540, "end_minute": 600, "weekday": 1,
            "starts_on": DAY}  # fmt: skip
    return WeeklySession.objects.create(**(held | own))


def test_a_slot_holds_one(clinic):
    session = clinic.session(DAY)
    slot = session.slots.first()
    Seat.objects.create(slot=slot, appointment=seated(clinic, session))
    assert refused(lambda: Seat.objects.create(slot=slot, appointment=seated(clinic, session)))


def test_a_seat_lies_in_the_session_of_its_appointment(clinic):
    mine, other = clinic.session(DAY), clinic.session(date(2026, 4, 7))
    appointment = seated(clinic, mine)
    assert refused(lambda: Seat.objects.create(slot=other.slots.first(), appointment=appointment))
    assert not refused(lambda: Seat.objects.create(slot=mine.slots.first(), appointment=appointment))


def test_an_appointment_without_a_session_has_no_seat(clinic):
    session = clinic.session(DAY)
    appointment = Appointment.objects.create(
        patient=clinic.patient(), site=clinic.site, on=DAY, minutes=20, booked_at=NOW
    )
    assert refused(lambda: Seat.objects.create(slot=session.slots.first(), appointment=appointment))


def test_a_slot_of_a_lost_session_takes_nobody(clinic):
    session = clinic.session(DAY)
    session.slots.update(live=False)
    assert refused(lambda: Seat.objects.create(slot=session.slots.first(), appointment=seated(clinic, session)))


def test_an_appointment_serves_its_own_patient_only(clinic):
    session, row = clinic.session(DAY), clinic.episode().follow_ups.get(key="stitches-out")
    appointment = seated(clinic, session)
    assert refused(lambda: Purpose.objects.create(appointment=appointment, follow_up=row))


@pytest.mark.parametrize("start", [540, 550, 530, 560, 720])
def test_nobody_is_in_two_places_whatever_the_grid(clinic, start):
    clinic.session(DAY)
    other = Session.objects.create(
        therapist=clinic.therapist, site=clinic.quay, on=DAY, start_minute=start, end_minute=start + 20
    )
    slot = {"session": other, "therapist": clinic.therapist, "on": DAY, "minute": start}
    assert refused(lambda: Slot.objects.create(**slot))
    assert not refused(lambda: Slot.objects.create(**(slot | {"live": False})))


@pytest.mark.parametrize("start", [520, 740])
def test_one_session_may_begin_where_another_ends(clinic, start):
    clinic.session(DAY)
    assert not refused(lambda: clinic.session(DAY, start=start, end=start + 20, site=clinic.quay))


def test_another_therapist_holds_the_same_hours(clinic):
    clinic.session(DAY)
    assert not refused(lambda: clinic.session(DAY, therapist=clinic.lead))


@pytest.mark.parametrize(
    "fields",
    [
        {"end_minute": 550},
        {"start_minute": 545},
        {"end_minute": 1450},
        {"start_minute": None},
        {"weekday": 7},
        {"weekday": None},
        {"ends_on": date(2026, 4, 1)},
        {"starts_on": None},
        {"takes": None},
        {"ways": None},
    ],
)
def test_a_weekly_session_has_hours_and_days_in_order(clinic, fields):
    assert refused(lambda: weekly(clinic, **fields))


def test_a_week_has_each_of_its_sessions_once_and_a_lost_one_says_why(clinic):
    row = weekly(clinic)
    own = {"therapist": clinic.therapist, "site": clinic.site, "on": DAY, "start_minute": 540, "end_minute": 600}
    Session.objects.create(weekly=row, **own)
    assert refused(lambda: Session.objects.create(weekly=row, **own))
    assert refused(lambda: Session.objects.create(live=False, **own))
    assert refused(lambda: Session.objects.create(lost_why="illness", **own))
    assert not refused(lambda: Session.objects.create(live=False, lost_why="illness", **own))


def test_an_absence_has_days_in_order_a_reason_and_another_as_cover(clinic):
    own = {"therapist": clinic.therapist, "starts_on": DAY, "ends_on": DAY, "reason": "leave"}
    for fields in (
        {"ends_on": date(2026, 4, 1)}, {"reason": ""}, {"cover": clinic.therapist}, {"ends_on": None},
    ):  # fmt: skip
        assert refused(lambda fields=fields: Absence.objects.create(**(own | fields))), fields
    assert not refused(lambda: Absence.objects.create(**own))


def test_an_appointment_has_one_step_to_take_back(clinic):
    own = {"appointment": seated(clinic, clinic.session(DAY)), "by": clinic.admin, "at": NOW, "version": 1}
    UndoStep.objects.create(**own)
    assert refused(lambda: UndoStep.objects.create(**own))
