"""What the demo shows: everything there is, in numbers that add up, with nothing that could be real.

Ranges for invented numbers: NHS numbers 999 000 0000 to 999 999 9999 were never issued; the regulator (Ofcom) sets
07700 900000 to 900999 and 01632 960000 to 960999 aside for fiction; example.org is reserved (RFC 2606).
"""

import re
from datetime import datetime, time

import pytest
from django.conf import settings
from django.db.models import Max
from django.utils import timezone

from caseload.actions import in_step
from caseload.actions.settle import compare
from caseload.models import (
    Absence,
    Appointment,
    Closure,
    Contact,
    Countersignature,
    Episode,
    Filing,
    Finding,
    FollowUp,
    Identifier,
    Instruction,
    Notice,
    Patient,
    Referral,
    Seat,
    Session,
    Site,
    Slot,
    Staff,
    TrailEntry,
    Wait,
)
from caseload.parsing.identifiers import Scheme, read_nhs_number
from caseload.reads import overdue
from caseload.reads.call_list import calls
from caseload.reads.facts import facts_of
from caseload.reads.filings import restatement
from caseload.reads.letters_waiting import letters_due, proposed
from caseload.reads.timetables import timetables_of, with_sources
from caseload.timetable.standing import booking, status
from caseload.timetable.terms import (
    Booking,
    Digit,
    Ending,
    FindingKind,
    FollowUpKind,
    Headline,
    Mark,
    Outcome,
    Side,
    Source,
    Status,
    Suture,
    Technique,
)
from caseload.waits.terms import STORED, End
from tests.demo.conftest import TODAY


def test_counts_of_headlines_and_in_hand_add_up_to_the_open_episodes(built):
    on_caseload = Episode.objects.on_caseload(TODAY).count()
    assert built.in_hand + sum(built.headlines.values()) == built.open == on_caseload
    assert built.open + built.planned == Episode.objects.open().count()


def test_every_headline_is_some_episodes_first(built):
    assert set(built.headlines) == {str(headline) for headline in Headline}


def test_every_owner_has_something_to_do(built):
    assert set(overdue.counts(TODAY).by("owner")) == {"therapist", "admin", "lead"}


def test_every_status_booking_and_mark_is_there(built):
    episodes = list(with_sources(Episode.objects.all()))
    timetables, facts = timetables_of(episodes, as_of=TODAY), facts_of(episodes)
    rows = [(facts[key].appointments, row) for key, each in timetables.items() for row in each.follow_ups]
    assert {status(row, TODAY) for _, row in rows} == set(Status)
    assert {booking(held, row, TODAY) for held, row in rows} == set(Booking)
    marks = {mark for each in timetables.values() for mark in each.marks}
    assert {Mark.SUTURE_UNKNOWN, Mark.INSTRUCTION_UNCONFIRMED} <= marks


@pytest.mark.parametrize(
    ("table", "field", "words"),
    [
        (Episode, "suture", Suture),
        (Episode, "technique", Technique),
        (Episode, "digit", Digit),
        (Episode, "side", Side),
        (Episode, "ended_how", Ending),
        (Finding, "kind", FindingKind),
        (Finding, "source", Source),
        (FollowUp, "kind", FollowUpKind),
        (Appointment, "outcome", Outcome),
    ],
)
def test_every_word_of_the_trade_occurs(built, table, field, words):
    assert {str(word) for word in words} <= set(table.objects.values_list(field, flat=True))


def test_what_is_stored_is_what_is_derived_for_open_and_closed_episodes_alike(built):
    assert compare(list(with_sources(Episode.objects.all()))).moved == {}


def test_every_person_of_it_is_marked_as_demo(built):
    assert not Patient.objects.filter(demo=False).exists()
    assert not Staff.objects.filter(demo=False).exists()


def test_nhs_numbers_are_valid_and_of_the_test_range(built):
    numbers = list(Identifier.objects.filter(scheme=Scheme.NHS).values_list("value", flat=True))
    assert len(numbers) > built.patients * 0.9
    assert all(read_nhs_number(number) == number and number.startswith("999") for number in numbers)


def test_telephones_and_addresses_reach_nobody(built):
    fiction = re.compile(r"07700 900\d{3}|01632 960\d{3}")
    phones = [*Patient.objects.values_list("phone", flat=True), *Site.objects.values_list("telephone", flat=True)]
    assert all(fiction.fullmatch(phone) for phone in phones)
    emails = [*Patient.objects.values_list("email", flat=True), *Staff.objects.values_list("email", flat=True)]
    assert all(email.endswith("@example.org") for email in emails if email)


def test_nothing_happened_after_now(built):
    noon = timezone.make_aware(datetime.combine(TODAY, time(12)))
    assert TrailEntry.objects.aggregate(last=Max("at"))["last"] <= noon
    assert Finding.objects.aggregate(last=Max("on"))["last"] <= TODAY


def test_staff_hold_every_role_and_one_person_holds_two(built):
    roles = [person.roles for person in Staff.objects.all()]
    assert len(roles) == 8
    assert sorted(len(held) for held in roles)[-1] == 2
    assert frozenset.union(*roles) == {"therapist", "admin", "lead"}


def test_both_sites_and_both_rule_sets_are_in_use(built):
    assert set(Episode.objects.values_list("site__name", flat=True)) == {"Fernhollow", "Quay Street"}
    assert set(Episode.objects.values_list("rules__name", flat=True)) == {"two-week", "ten-to-fourteen"}


def test_two_people_of_one_name_have_visits_on_one_day(built):
    first, second = Patient.objects.filter(family="Thornelow")
    assert first.full_name == second.full_name and first.born_on != second.born_on
    assert first.appointments.get().on == second.appointments.get().on


def test_the_rare_things_are_there_too(built):
    assert Patient.objects.filter(interpreter=True).exclude(dressing_allergy="").exists()
    assert Episode.objects.filter(reoperation_of__isnull=False).exists()
    assert Episode.objects.filter(raised_risk=True).exists()
    assert Finding.objects.filter(withdraws=True).exists() and Finding.objects.filter(corrects__isnull=False).exists()
    assert (
        Instruction.objects.filter(locked=True).exists() and Instruction.objects.filter(latest__isnull=False).exists()
    )
    assert Countersignature.objects.exists() and Contact.objects.exists()
    assert set(Referral.objects.values_list("priority", flat=True)) == {"routine", "urgent"}


def test_a_reported_removal_still_waits_for_somebody_to_look(built):
    reported = Finding.objects.filter(kind="stitches", source="reported", countersignature__isnull=True)
    waiting = FollowUp.objects.due().filter(kind="wound-recheck", episode__findings__in=reported)
    assert waiting.exists()


def test_every_act_left_its_entry_and_what_it_moved(built):
    acts = set(TrailEntry.objects.values_list("act", flat=True))
    assert {"episode.open", "finding.record", "appointment.book", "episode.close", "red-flag.close"} <= acts
    opened = TrailEntry.objects.filter(act="episode.open")
    assert opened.count() == built.episodes
    assert any("close" in entry.changed for entry in opened)


def test_most_surgery_is_on_working_days(built):
    days = Episode.objects.filter(surgery_on__isnull=False).values_list("surgery_on", flat=True)
    assert sum(day.weekday() < 5 for day in days) > 0.9 * len(days)


def test_no_slot_holds_two_and_every_visit_lies_in_its_session(built):
    booked = Appointment.objects.filter(live=True, session__isnull=False)
    taken = sum(row.seats.count() for row in booked)
    assert taken == Seat.objects.count() == sum(-(-row.minutes // 20) for row in booked)
    assert all(row.start_minute >= row.session.start_minute for row in booked.select_related("session"))


def test_the_diary_shows_what_happens_to_sessions(built):
    assert Session.objects.filter(live=False).exists() and Slot.objects.exclude(held_why="").exists()
    assert {row.cover_id is None for row in Absence.objects.all()} == {True, False}
    assert Closure.objects.exists() and Session.objects.filter(weekly__isnull=True).exists()
    assert Appointment.objects.filter(told="untold", live=True).exists(), "moved and not rung yet"
    assert Appointment.objects.filter(way="telephone").exists()


def test_whoever_was_due_this_morning_has_come(built):
    today = Appointment.objects.filter(on=TODAY, session__isnull=False, live=True, start_minute__lt=12 * 60)
    assert today.exists() and not today.filter(arrived_at__isnull=True).exists()


NOON = timezone.make_aware(datetime.combine(TODAY, time(12)))


def test_some_are_to_be_rung_today_and_some_did_not_answer(built):
    found = calls(NOON, 0, 50)
    assert found and any(call.tries for call in found)


def test_there_are_emails_and_calls_in_every_state_and_letters_that_wait(built):
    states = set(Notice.objects.values_list("channel", "state"))
    for state in (("email", "sent"), ("email", "failed"), ("email", "waiting"), ("call", "sent"), ("call", "waiting")):
        assert state in states
    assert letters_due(NOON).exists() and proposed(TODAY).exists()


def test_every_notice_is_the_one_that_is_wanted(built):
    """Without a setting, as the commands are given: so that `rederive --dry-run` finds no drift in a demo."""
    writes = in_step.compare(list(Appointment.objects.values_list("pk", flat=True)), NOON)
    assert settings.MAIL_URL == "" and Notice.objects.filter(channel="email", state="waiting").exists()
    assert writes.new == [] and writes.moved == []


def test_nobody_could_be_written_to_for_real(built):
    """No postcode begins with FH (the postal service's list of postcode areas, from memory)."""
    for notice in Notice.objects.filter(channel="email", state="sent").select_related("patient"):
        assert notice.sent_to.endswith("@example.org") and notice.patient.demo
    homes = Patient.objects.exclude(postal_address="").values_list("postal_address", flat=True)
    assert homes and all(home.splitlines()[-1].startswith("FH") for home in homes)


def test_every_clock_runs_and_waits_end_in_every_way(built):
    assert set(Wait.objects.values_list("clock", flat=True)) == {str(clock) for clock in STORED}
    ended = set(Wait.objects.values_list("ended", flat=True))
    assert {End.SEEN, End.WAITING, End.TRANSFERRED, End.DIED, End.REOPERATION} <= ended
    assert Wait.objects.filter(key__startswith="wound-closed:").exists()
    assert Wait.objects.filter(entered_on__isnull=False).exists()
    assert Wait.objects.filter(missed_on__isnull=False).exists()


def test_one_month_is_filed_and_something_moved_it_since(built):
    found = restatement(Filing.objects.get())
    assert found.moved
