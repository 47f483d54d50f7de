"""Absences with and without a cover, closures, and sessions held again."""

from datetime import date

import pytest

from caseload.actions import absences, service, sessions
from caseload.actions.rederive import rederive
from caseload.models import Appointment, Session
from tests.record.refusing import refused
from tests.record.test_sessions import FIRST, booked, colleague, days, week
from tests.scenario import TODAY, by


def away(clinic, **own):
    held = {"therapist": clinic.therapist, "starts_on": FIRST, "ends_on": date(2026, 4, 9), "reason": "leave"} | own
    return absences.add_absence(by=by(clinic.admin), **held)


def test_without_a_cover_the_sessions_are_called_off_and_the_patients_are_to_be_told(clinic):
    row = week(clinic)
    appointment = booked(clinic)
    away(clinic)
    appointment.refresh_from_db()
    assert (appointment.outcome, appointment.told) == ("cancelled-by-clinic", "untold")
    assert days(row)[0] == date(2026, 4, 16)
    assert row.sessions.get(on=FIRST).lost_why == "Thea Marsh away: leave"


def test_with_a_cover_the_sessions_pass_to_them(clinic):
    row, carla = week(clinic), colleague()
    appointment = booked(clinic)
    away(clinic, cover=carla)
    session = row.sessions.get(on=FIRST)
    assert (session.therapist, session.live, session.changed) == (carla, True, True)
    assert Appointment.objects.get(pk=appointment.pk).live


def test_where_the_cover_is_elsewhere_the_session_is_called_off(clinic):
    row, carla = week(clinic), colleague()
    clinic.session(FIRST, site=clinic.quay, therapist=carla, start=700, end=760)
    away(clinic, cover=carla)
    assert {session.on: session.live for session in row.sessions.filter(on__lte=date(2026, 4, 9))} == {
        FIRST: False, date(2026, 4, 9): True,
    }  # fmt: skip


def test_sessions_of_days_away_are_dated_for_the_cover_or_not_at_all(clinic):
    carla = colleague()
    away(clinic, cover=carla)
    away(clinic, starts_on=date(2026, 4, 16), ends_on=date(2026, 4, 16))
    row = week(clinic)
    assert row.sessions.get(on=FIRST).therapist == carla
    assert date(2026, 4, 16) not in days(row)


def test_an_absence_that_ends_sooner_gives_the_sessions_back(clinic):
    row, carla = week(clinic), colleague()
    absence = away(clinic, cover=carla)
    absences.end_absence(absence, by=by(clinic.admin), on=FIRST)
    held = {session.on: session.therapist for session in row.sessions.filter(on__lte=date(2026, 4, 9))}
    assert held == {FIRST: carla, date(2026, 4, 9): clinic.therapist}
    assert not row.sessions.get(on=date(2026, 4, 9)).changed


def test_an_absence_entered_wrongly_is_taken_out(clinic):
    row = week(clinic)
    Session.objects.all().delete()
    absence = away(clinic)
    absences.end_absence(absence, by=by(clinic.admin), on=TODAY)
    assert FIRST in days(row) and not clinic.therapist.absences.exists()


@pytest.mark.parametrize(
    ("own", "says"),
    [
        ({"ends_on": TODAY}, "absence-dates"),
        ({"starts_on": date(2026, 3, 1), "ends_on": date(2026, 3, 2)}, "absence-dates"),
        ({"reason": " "}, "why-missing"),
    ],
)
def test_an_absence_that_cannot_be(clinic, own, says):
    assert refused(lambda: away(clinic, **own)) == says


def test_nobody_covers_for_themselves_or_is_away_twice(clinic):
    assert refused(lambda: away(clinic, cover=clinic.therapist)) == "cover-same"
    assert refused(lambda: away(clinic, cover=clinic.admin)) == "not-a-therapist"
    away(clinic)
    assert refused(lambda: away(clinic, starts_on=date(2026, 4, 9), ends_on=date(2026, 4, 10))) == "absence-twice"


@pytest.mark.parametrize(("own", "off"), [({"site": None}, True), ({}, True), ({"elsewhere": True}, False)])
def test_a_closure_calls_off_the_sessions_of_its_site(clinic, own, off):
    session = booked(clinic).session
    site = None if "site" in own else clinic.quay if own else clinic.site
    service.add_closure(by=by(clinic.admin), site=site, starts_on=FIRST, ends_on=FIRST, reason="flood")
    session.refresh_from_db()
    assert session.live is not off


def test_a_closure_needs_its_days_in_order_and_a_reason(clinic):
    shut = {"by": by(clinic.admin), "site": None, "starts_on": FIRST}
    assert refused(lambda: service.add_closure(**shut, ends_on=TODAY, reason="flood")) == "closure-dates"
    assert refused(lambda: service.add_closure(**shut, ends_on=FIRST, reason=" ")) == "why-missing"


def test_a_session_called_off_is_held_again(clinic):
    row = week(clinic)
    session = row.sessions.get(on=FIRST)
    assert refused(lambda: sessions.hold_again(session, by=by(clinic.admin))) == "held-already"
    shut = service.add_closure(by=by(clinic.admin), site=None, starts_on=FIRST, ends_on=FIRST, reason="flood")
    assert refused(lambda: sessions.hold_again(session, by=by(clinic.admin))) == "day-closed"
    service.remove_closure(shut, by=by(clinic.admin))
    sessions.hold_again(session, by=by(clinic.admin))
    assert session.slots.filter(live=True).count() == 10
    assert (session.lost_why, session.changed) == ("", False)


def test_a_session_is_not_held_again_while_the_therapist_is_elsewhere(clinic):
    session = booked(clinic).session
    absence = away(clinic, starts_on=FIRST, ends_on=FIRST)
    assert refused(lambda: sessions.hold_again(session, by=by(clinic.admin))) == "therapist-away"
    absences.end_absence(absence, by=by(clinic.admin), on=TODAY)
    clinic.session(FIRST, site=clinic.quay)
    assert refused(lambda: sessions.hold_again(session, by=by(clinic.admin))) == "two-places"


def test_closed_days_put_off_at_once_by_when_somebody_has_to_be_told(clinic):
    row = clinic.episode(surgery_on=date(2026, 3, 10), for_therapy=False).follow_ups.get(key="stitches-out")
    clinic.book([row], date(2026, 4, 16), told="untold")
    for on in (TODAY, date(2026, 4, 7)):  # between them no window of the episode lies
        clinic.session(on)
    shut = {"starts_on": date(2026, 4, 2), "ends_on": date(2026, 4, 2), "reason": "flood"}
    service.add_closure(by=by(clinic.admin), site=clinic.site, **shut)
    assert row.latest_on < shut["starts_on"] and rederive(by=by(), mend=False).moved == {}
