"""What is read of the record for need and room: joined visits, booked ones, free slots, the rate of surgery."""

from datetime import date, timedelta

import pytest

from caseload.actions import holds
from caseload.booking.room import Why
from caseload.models import FollowUp
from caseload.reads.need import BEHIND, outlooks
from caseload.timetable.terms import FollowUpKind as Kind
from tests.scenario import TODAY, Fernhollow, by

pytestmark = pytest.mark.django_db


def due(episode, kind=Kind.STITCHES_OUT) -> FollowUp:
    return FollowUp.objects.get(episode=episode, kind=kind)


def unbooked(clinic: Fernhollow, kind: Kind) -> list:
    return [visit for visit in outlooks(TODAY)[clinic.site.pk].unbooked if kind in visit.kinds]


def test_two_digits_that_one_visit_can_serve_are_one_visit(clinic):
    patient = clinic.patient()
    for digit in ("ring", "middle"):
        clinic.episode(patient, digit=digit, for_therapy=False)
    (visit,) = unbooked(clinic, Kind.STITCHES_OUT)
    assert visit.slots == 2 and visit.last == date(2026, 4, 5)


def test_patients_to_whom_the_same_is_due_are_counted_and_who_is_due_more_is_not_one_of_them(clinic):
    """Three alike, one of whom has a second digit, which one visit can serve, and one an interpreter."""
    patients = [clinic.patient(), clinic.patient(), clinic.patient(), clinic.patient(interpreter=True)]
    for patient, digit in [*((each, "ring") for each in patients), (patients[1], "middle")]:
        clinic.episode(patient, digit=digit, for_therapy=False)
    found = {visit.slots: visit.number for visit in unbooked(clinic, Kind.STITCHES_OUT)}
    assert sum(found.values()) == 4 and found[1] == 2


def test_what_one_patient_is_due_at_two_sites_is_two_visits(clinic):
    patient = clinic.patient()
    clinic.episode(patient, digit="ring", for_therapy=False)
    clinic.episode(patient, digit="middle", for_therapy=False, site=clinic.quay)
    found = outlooks(TODAY)
    for site in (clinic.site, clinic.quay):
        assert [each.number for each in found[site.pk].unbooked if Kind.STITCHES_OUT in each.kinds] == [1]


def test_what_is_booked_inside_its_window_needs_no_room_and_what_is_outside_does(clinic):
    inside, outside = clinic.episode(for_therapy=False), clinic.episode(for_therapy=False)
    clinic.book([due(inside)], date(2026, 4, 2))
    clinic.book([due(outside)], date(2026, 4, 9))
    found = outlooks(TODAY)[clinic.site.pk]
    assert [visit.first for visit in found.booked] == [date(2026, 4, 2)]
    assert [visit.last for visit in found.unbooked if Kind.STITCHES_OUT in visit.kinds] == [date(2026, 4, 5)]


def test_slots_held_back_or_taken_are_not_free_and_a_full_session_is_said_to_be_full(clinic):
    clinic.episode(for_therapy=False)
    session = clinic.session(date(2026, 4, 2), start=540, end=600)
    _, *others = session.slots.order_by("minute")
    holds.hold(others, why="kept back", by=by(clinic.admin))
    found = outlooks(TODAY)[clinic.site.pk]
    assert [room.free for room in found.rooms] == [1]
    clinic.episode(for_therapy=False)
    short = outlooks(TODAY)[clinic.site.pk].known.short
    assert [each.why for each in short if Kind.STITCHES_OUT in each.visit.kinds] == [Why.FULL]


def test_the_rate_of_surgery_is_that_of_whole_weeks_at_the_site_without_what_is_planned(clinic):
    monday = TODAY - timedelta(days=TODAY.weekday())
    for weeks in (1, BEHIND):
        clinic.episode(surgery_on=monday - timedelta(weeks=weeks), for_therapy=False)
    clinic.episode(surgery_on=monday - timedelta(weeks=BEHIND, days=1), for_therapy=False)
    clinic.episode(surgery_on=monday, for_therapy=False)
    clinic.episode(surgery_on=TODAY + timedelta(days=20), for_therapy=False)
    found = outlooks(TODAY)
    assert found[clinic.site.pk].surgery[:2] == (2, 1) and found[clinic.quay.pk].surgery[:2] == (0, 0)
    assert not found[clinic.quay.pk].expected


def test_two_digits_of_one_day_are_one_operation_behind_and_ahead(clinic):
    for surgery_on in (TODAY - timedelta(days=10), TODAY + timedelta(days=20)):
        patient = clinic.patient()
        for digit in ("ring", "middle"):
            clinic.episode(patient, surgery_on=surgery_on, digit=digit, for_therapy=False)
    found = outlooks(TODAY)[clinic.site.pk]
    assert found.surgery[:2] == (1, 1) and {visit.slots for visit in found.expected_most} == {2}


def test_however_much_there_is_it_takes_seven_queries(clinic, django_assert_num_queries):
    for number in range(3):
        clinic.episode(surgery_on=TODAY - timedelta(days=10 + number))
        clinic.session(TODAY + timedelta(days=number + 1))
    with django_assert_num_queries(7):
        outlooks(TODAY)
