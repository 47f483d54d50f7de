"""A chain of those who make room for each other is carried out whole, or nobody of it is moved."""

from datetime import date

import pytest
from django.db import transaction

from caseload.access import Act
from caseload.actions import appointments, findings, rehousing
from caseload.actions.rehousing_together import Place, rehouse_together
from caseload.errors import Refusal
from caseload.models import Appointment, Notice, Told, TrailEntry, UndoStep
from caseload.timetable.terms import Outcome
from tests.record.at_once import at_once
from tests.record.before import CLOSED, REPORT
from tests.scenario import TODAY, Fernhollow, by, fernhollow

TUESDAY, WEDNESDAY, THURSDAY = (date(2026, 4, day) for day in (7, 8, 9))


def stitches(clinic: Fernhollow, family: str, surgery_on: date):
    patient = clinic.patient(family=family, given="Pat", email="pat@example.org", email_consent=True)
    return clinic.episode(patient, surgery_on=surgery_on).follow_ups.get(key="stitches-out")


def chain_of(clinic: Fernhollow) -> list[Place]:
    """Lost has to be seen by Tuesday, where Mid sits, who can go to Wednesday, where Late sits, who can on Thursday."""
    mid = clinic.book([stitches(clinic, "Mid", date(2026, 3, 23))], TUESDAY)
    late = clinic.book([stitches(clinic, "Late", date(2026, 3, 24))], WEDNESDAY)
    ill, wanted = clinic.session(TUESDAY, start=800, end=820), stitches(clinic, "Lost", date(2026, 3, 22))
    lost = appointments.book([wanted], by=by(clinic.admin), session=ill, start=800)
    free = clinic.session(THURSDAY, end=560)
    rehousing.call_off([lost.session], by=by(clinic.admin), why="ill")
    lost = Appointment.objects.get(pk=lost.pk)
    return [
        Place(lost, mid.session, 540), Place(mid, late.session, 540, (mid.session_id, 540)),
        Place(late, free, 540, (late.session_id, 540)),
    ]  # fmt: skip


def days() -> list[tuple[str, date | None, bool]]:
    return list(Appointment.objects.order_by("pk").values_list("patient__family", "on", "live"))[:3]


AS_IT_WAS = [("Mid", TUESDAY, True), ("Late", WEDNESDAY, True), ("Lost", TUESDAY, False)]
MOVED = [("Mid", WEDNESDAY, True), ("Late", THURSDAY, True), ("Lost", TUESDAY, True)]


def read_anew(place: Place) -> Place:
    return place._replace(appointment=Appointment.objects.get(pk=place.appointment.pk))


def refused(places: list[Place], clinic: Fernhollow) -> Refusal:
    """It is refused, and nobody but those who were moved by somebody else is where they were not."""
    with pytest.raises(Refusal) as refusal:
        rehouse_together(places, by=by(clinic.admin))
    return refusal.value


def test_everybody_of_a_chain_gets_their_place_untold_each_with_a_trail_of_their_own(clinic, settled):
    chain = chain_of(clinic)
    assert rehouse_together(chain, by=by(clinic.admin)) == chain[0].appointment
    assert days() == MOVED
    assert set(Appointment.objects.values_list("told", "untold_since_on")) == {(Told.UNTOLD, TODAY)}
    moves = TrailEntry.objects.filter(act=Act.APPOINTMENT_MOVE, subject="appointment")
    assert {entry.changed["on"][1] for entry in moves} == {"2026-04-08", "2026-04-09"}
    steps = UndoStep.objects.filter(before__on__isnull=False).values_list("appointment__patient__family", "before__on")
    assert sorted(steps) == [("Late", "2026-04-08"), ("Mid", "2026-04-07")]


def test_each_of_them_is_to_be_written_to_that_it_moved(clinic, settings):
    settings.MAIL_URL = "folder:"
    rehouse_together(chain := chain_of(clinic), by=by(clinic.admin))
    news = Notice.objects.filter(kind="moved", state="waiting", channel="email")
    assert {row.appointment_id for row in news} == {each.appointment.pk for each in chain}


def test_if_one_place_of_it_is_taken_meanwhile_nobody_is_moved(clinic):
    chain = chain_of(clinic)
    appointments.book([stitches(clinic, "Quick", date(2026, 3, 25))], by=by(), session=chain[2].session, start=540)
    assert refused(chain, clinic).code == "slot-taken" and days() == AS_IT_WAS
    assert not UndoStep.objects.filter(before__on__isnull=False).exists()


def test_who_was_moved_by_somebody_else_meanwhile_is_named(clinic):
    chain = chain_of(clinic)
    appointments.move(chain[2].appointment, by=by(clinic.lead), session=chain[2].session, start=540)
    chain[2] = read_anew(chain[2])
    refusal = refused(chain, clinic)
    assert (refusal.code, refusal.message.partition(":")[0]) == ("moved-meanwhile", "LATE, Pat")
    assert [days()[0], days()[2]] == [AS_IT_WAS[0], AS_IT_WAS[2]]


def test_who_does_not_wait_any_more_is_named_and_nobody_is_moved_for_them(clinic):
    chain = chain_of(clinic)
    lost, other = chain[0], clinic.session(TUESDAY, start=900, end=920)
    rehousing.rehouse(lost.appointment, by=by(clinic.lead), session=other, start=900)
    assert refused(chain, clinic).code == "not-to-rehouse" and days()[:2] == AS_IT_WAS[:2]


@pytest.mark.parametrize("said", [{"interpreter_told": True}, {"approved_by": "Dr V"}, {"on": TODAY}, {"minutes": 40}])
def test_who_may_not_move_for_others_any_more_is_left_alone(clinic, said):
    chain = chain_of(clinic)
    Appointment.objects.filter(pk=chain[1].appointment.pk).update(**said)
    assert refused(chain, clinic).code == "may-not-move"


def test_nobody_is_moved_out_of_their_days_for_others(clinic):
    chain = chain_of(clinic)
    chain[1] = chain[1]._replace(session=clinic.session(date(2026, 4, 14), end=560))
    assert refused(chain, clinic).code == "leaves-its-days" and days() == AS_IT_WAS


def test_nobody_is_moved_for_who_needs_no_visit_any_more(clinic):
    chain = chain_of(clinic)
    episode = chain[0].appointment.purposes.get().follow_up.episode
    for found in (REPORT, CLOSED):
        findings.record(episode, by=by(clinic.therapist), **found)
    assert refused(chain, clinic).code in {"not-due", "no-visit"} and days()[:2] == AS_IT_WAS[:2]


def test_a_session_that_was_called_off_meanwhile_takes_nobody(clinic):
    chain = chain_of(clinic)
    rehousing.call_off([chain[2].session], by=by(clinic.lead), why="ill too")
    assert refused(chain, clinic).code == "session-lost" and days() == AS_IT_WAS


def test_somebody_who_ended_it_meanwhile_is_not_moved(clinic):
    chain = chain_of(clinic)
    appointments.end(chain[1].appointment, by=by(clinic.lead), outcome=Outcome.CANCELLED_BY_PATIENT)
    assert refused(chain, clinic).code == "moved-meanwhile"


@pytest.mark.django_db(transaction=True)
def test_of_two_people_at_once_one_moves_the_chain_and_the_other_is_refused():
    clinic = fernhollow()
    with transaction.atomic():
        chain = chain_of(clinic)

    def accept(staff) -> str:
        rehouse_together(own[staff], by=by(staff))
        return "moved"

    own = {staff: [read_anew(each) for each in chain] for staff in (clinic.admin, clinic.lead)}
    said = at_once(*(lambda staff=staff: accept(staff) for staff in own))
    assert sorted(said) == ["moved", "not-to-rehouse"]
    assert days() == MOVED
