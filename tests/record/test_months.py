"""Nobody is lost: random months through the real acts, looked at after every one of them.

At every step each open episode has exactly one headline or is in hand, and a next step with a date and an owner; the
counts add up; what has to be booked is on the booking list or has a good appointment in a session that takes place; no
slot holds two; and what is stored is what is derived.
"""

import os
from collections import defaultdict
from datetime import timedelta

import pytest

from caseload.actions.rederive import rederive
from caseload.booking.good import Booked, faults
from caseload.booking.slots import slots_for
from caseload.models import Appointment, Episode, FollowUp, Purpose, Seat
from caseload.reads import overdue, to_book
from caseload.reads.openings import asked_of
from caseload.timetable.terms import Headline, Way
from tests.record.months import Months

SEEDS = range(int(os.environ.get("MONTHS", "3")))
STEPS = 50


@pytest.mark.parametrize("seed", SEEDS)
def test_nobody_is_lost_whatever_happens(clinic, seed, settings):
    settings.MAIL_URL = "folder:"
    months = Months(clinic, seed)
    for _ in range(STEPS):
        months.step()
        assert rederive(by=months.by(), mend=False).moved == {}, months.log[-3:]
        for ahead in (0, 30):
            each_has_one_headline_and_a_next_step(months.today + timedelta(days=ahead))
        each_is_to_be_booked_or_has_a_good_appointment(months.today)
        each_seat_is_of_one_visit_that_takes_place()
    assert len(months.log) > STEPS / 3


def each_has_one_headline_and_a_next_step(day) -> None:
    found = list(Episode.objects.on_caseload(day).prefetch_related("standings"))
    for episode in found:
        standings = [row for row in episode.standings.all() if row.from_on <= day < row.until_on]
        assert len(standings) == 1, (episode, day)
        says_none = Headline.NO_NEXT_STEP in (standings[0].headline, *standings[0].others)
        assert says_none or (episode.next_kind and episode.next_on and episode.next_owner), (episode, day)
    counts = overdue.counts(day)
    assert counts.by("headline").total() + counts.in_hand == counts.open == len(found)
    assert counts.by("owner").total() == counts.needing


def each_is_to_be_booked_or_has_a_good_appointment(today) -> None:
    on_list = {row.id for row in to_book.rows(to_book.Asked(), today)}
    due = FollowUp.objects.due().filter(minutes__gt=0, earliest_on__lte=today + timedelta(days=28))
    due = due.filter(episode__in=Episode.objects.on_caseload(today)).exclude(pk__in=on_list)
    served = defaultdict(list)
    purposes = Purpose.objects.filter(live=True)
    for each in purposes.select_related("appointment__session", "follow_up__episode", "follow_up__patient"):
        served[each.appointment].append(each.follow_up)
    held_by = {row.pk: held for held, rows in served.items() for row in rows}
    for row in due:
        held = held_by[row.pk]
        assert held.live and not held.outcome and held.session and held.session.live
        assert held.on < today or not amiss(held, [each for each in served[held] if each.state == "due"])


def amiss(held: Appointment, rows: list[FollowUp]):
    booked = Booked(held.on, held.minutes, held.site_id, Way(held.way), bool(held.approved_by), held.interpreter_told)
    asked, first = [asked_of(row) for row in rows], rows[0]
    return faults(asked, booked, site=first.episode.site_id, interpreter=first.patient.interpreter)


def each_seat_is_of_one_visit_that_takes_place() -> None:
    """That a slot holds one is the database's to refuse; here, that each visit to come sits where it says."""
    seats = Seat.objects.select_related("slot__session")
    seated: dict[int, list] = {}
    for seat in seats:
        seated.setdefault(seat.appointment_id, []).append(seat.slot)
    for held in Appointment.objects.filter(live=True, session__isnull=False):
        slots = seated.pop(held.pk)
        assert {slot.minute for slot in slots} == set(slots_for(held.start_minute, held.minutes))
        assert all(slot.session_id == held.session_id and slot.on == held.on and slot.live for slot in slots)
    assert not seated
