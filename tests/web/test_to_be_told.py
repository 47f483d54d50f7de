"""Who is to be told, under the booking list: what to say, longest first, what came of ringing in one press."""

from datetime import date

import pytest

from caseload.actions import appointments, episodes
from caseload.actions.undoing import undo
from caseload.models import Appointment, Contact, Session
from caseload.reads.untold import untold, untold_count
from caseload.timetable.terms import Ending
from tests.scenario import TODAY, by
from tests.web.test_to_book import ADDRESS, said, sessions, stitches

__all__ = ["sessions"]


def test_a_moved_appointment_says_from_when_to_when(sessions, admin):
    row = stitches(sessions, phone="07700 900118")
    booked = sessions.book([row], date(2026, 4, 2))
    session = Session.objects.get(on=date(2026, 4, 1))
    appointments.move(booked, by=by(sessions.admin), session=session, start=700, told="untold")
    page = said(admin.get(ADDRESS))
    assert "Moved from Thu 2 Apr 2026 to Wed 1 Apr 2026, 11:40." in page and "1 to be told" in page


def test_untold_for_two_open_days_is_marked_and_the_longest_stands_first(sessions):
    for start, since in ((20, date(2026, 3, 31)), (21, date(2026, 3, 27))):
        booked = sessions.book([stitches(sessions, date(2026, 3, start))], date(2026, 4, 2), told="untold")
        Appointment.objects.filter(pk=booked.pk).update(untold_since_on=since)
    assert [(each.appointment.untold_since_on.day, each.overdue) for each in untold(TODAY)] == [(27, True), (31, False)]


@pytest.mark.parametrize(("press", "told", "calls"), [("told", "told", 0), ("message-left", "message-left", 0),
                                                      ("no-answer", "untold", 1)])  # fmt: skip
def test_one_press_says_what_came_of_ringing(sessions, admin, press, told, calls):
    booked = sessions.book([stitches(sessions)], date(2026, 4, 2), told="untold")
    answer = admin.post("/to-book/told/", {"appointment": booked.code, "version": booked.version, "said": press})
    booked.refresh_from_db()
    assert answer.status_code == 302 and booked.told == told and Contact.objects.count() == calls


def test_nobody_is_asked_to_ring_for_one_who_died(sessions):
    row = stitches(sessions)
    sessions.book([row], date(2026, 4, 2))
    episodes.close(row.episode, by=by(sessions.lead), version=None, how=Ending.DIED, on=TODAY)
    assert not Appointment.objects.filter(told="untold").exists() and untold(TODAY) == []


def test_nobody_is_asked_to_ring_for_one_who_has_come_unless_that_is_taken_back(sessions):
    booked = sessions.book([stitches(sessions)], TODAY, told="untold")
    appointments.arrive(booked, by=by(sessions.admin))
    assert untold(TODAY) == [] and untold_count() == 0
    undo(booked, by=by(sessions.admin))
    assert [each.appointment for each in untold(TODAY)] == [booked]
