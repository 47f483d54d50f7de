"""What acts refuse: each with a code and a sentence that says what would be right, and nothing written."""

from datetime import date

import pytest

from caseload.actions import appointments, episodes, findings, instructions, patients, referrals, reviews
from caseload.errors import Refusal
from caseload.models import Appointment, Episode, Finding, TrailEntry
from caseload.timetable.terms import Ending, Outcome
from tests.record.before import CLOSED, FLAG, REPORT, booked
from tests.scenario import NHS_NUMBERS, TODAY, by

STITCHES = {"kind": "stitches", "on": TODAY, "source": "seen", "stitches_out": 4, "stitches_left": 0}


def code(call) -> str:
    """The code of the refusal, after seeing that nothing was written."""
    before = (Finding.objects.count(), Episode.objects.count(), Appointment.objects.count(), TrailEntry.objects.count())
    with pytest.raises(Refusal) as refusal:
        call()
    after = (Finding.objects.count(), Episode.objects.count(), Appointment.objects.count(), TrailEntry.objects.count())
    assert before == after
    assert refusal.value.message.endswith(".")
    return refusal.value.code


@pytest.mark.parametrize(
    ("said", "refused"),
    [
        (CLOSED | {"on": date(2026, 4, 2)}, "finding-in-future"),
        (CLOSED | {"on": date(2026, 3, 19)}, "finding-before-surgery"),
        (REPORT | {"reported_by": " "}, "reporter-missing"),
        (STITCHES | {"stitches_out": None}, "counts-missing"),
        (STITCHES | {"stitches_out": 3}, "count-unconfirmed"),
        ({"kind": "trim-needed", "on": TODAY, "source": "seen"}, "nothing-to-trim"),
    ],
)
def test_a_finding_that_cannot_be(clinic, said, refused):
    episode = clinic.episode()
    assert code(lambda: findings.record(episode, by=by(clinic.therapist), **said)) == refused


def test_none_left_of_an_unknown_number_needs_a_second_look(clinic):
    episode = clinic.episode(stitches_in=None)
    assert code(lambda: findings.record(episode, by=by(clinic.therapist), **STITCHES)) == "count-unconfirmed"
    findings.record(episode, by=by(clinic.therapist), **STITCHES, confirmed_full=True)


def test_two_removals_add_up_to_what_was_put_in(clinic):
    episode = clinic.episode()
    half = STITCHES | {"stitches_out": 2, "stitches_left": 2}
    findings.record(episode, by=by(clinic.therapist), **half)
    findings.record(episode, by=by(clinic.therapist), **(half | {"stitches_left": 0}))
    assert episode.follow_ups.get(key="stitches-out").done_on == TODAY


def test_a_patients_word_does_not_count_towards_the_stitches(clinic):
    episode = clinic.episode()
    half = STITCHES | {"stitches_out": 2, "stitches_left": 2}
    findings.record(episode, by=by(clinic.therapist), **(half | {"source": "patient"}))
    last = half | {"stitches_left": 0}
    assert code(lambda: findings.record(episode, by=by(clinic.therapist), **last)) == "count-unconfirmed"


def test_no_stitches_come_out_of_a_hand_that_had_none(clinic):
    episode = clinic.episode(suture="none", stitches_in=None)
    said = STITCHES | {"confirmed_full": True}
    assert code(lambda: findings.record(episode, by=by(clinic.therapist), **said)) == "no-stitches"


def test_a_visit_that_takes_stitches_out_says_how_the_wound_is(clinic):
    episode = clinic.episode()
    therapist = by(clinic.therapist)
    assert code(lambda: findings.record_visit(episode, by=therapist, sayings=[STITCHES])) == "wound-missing"
    assert code(lambda: findings.record_visit(episode, by=therapist, sayings=[])) == "nothing-found"
    findings.record_visit(episode, by=therapist, sayings=[STITCHES, CLOSED])


def test_a_finding_is_corrected_once_and_only_a_report_is_countersigned(clinic):
    finding = findings.record(clinic.episode(), by=by(clinic.therapist), **CLOSED)
    findings.correct(finding, by=by(clinic.therapist), wound="not-closed")
    finding.refresh_from_db()
    assert code(lambda: findings.correct(finding, by=by(clinic.therapist), wound="closed")) == "corrected-already"
    assert code(lambda: findings.countersign(finding, by=by(clinic.therapist))) == "nothing-to-countersign"


def test_a_withdrawal_says_why(clinic):
    finding = findings.record(clinic.episode(), by=by(clinic.therapist), **CLOSED)
    assert code(lambda: findings.withdraw(finding, by=by(clinic.therapist), why=" ")) == "why-missing"


def test_a_red_flag_closes_with_whom_and_what(clinic):
    flag = findings.record(clinic.episode(), by=by(clinic.therapist), **FLAG)
    close = {"escalated_to": "on-call surgeon", "outcome": "seen"}
    for name in close:
        empty = close | {name: ""}
        assert code(lambda e=empty: findings.close_red_flag(flag, by=by(clinic.lead), **e)) == "closure-incomplete"
    findings.close_red_flag(flag, by=by(clinic.lead), **close)
    flag.refresh_from_db()
    assert code(lambda: findings.close_red_flag(flag, by=by(clinic.lead), **close)) == "no-open-red-flag"


def test_nobody_is_discharged_with_stitches_in_or_a_red_flag_open(clinic):
    episode = clinic.episode()
    close = {"by": by(clinic.lead), "version": None, "how": Ending.DISCHARGED, "on": TODAY}
    assert code(lambda: episodes.close(episode, **close)) == "stitches-in"
    findings.record_visit(episode, by=by(clinic.therapist), sayings=[STITCHES, CLOSED, FLAG])
    assert code(lambda: episodes.close(episode, **close)) == "red-flag-open"
    flag = Finding.objects.get(kind="red-flag")
    findings.close_red_flag(flag, by=by(clinic.lead), escalated_to="surgeon", outcome="well")
    assert episodes.close(episode, **close).ended_how == "discharged"


@pytest.mark.parametrize(
    ("close", "refused"),
    [
        ({"how": Ending.TRANSFERRED}, "receiver-missing"),
        ({"how": Ending.DIED, "on": date(2026, 4, 2)}, "closed-in-future"),
        ({"how": Ending.TRANSFERRED, "on": date(2026, 3, 1), "received_by": "Another"}, "closed-before-surgery"),
    ],
)
def test_an_end_that_cannot_be(clinic, close, refused):
    episode = clinic.episode()
    own = {"by": by(clinic.lead), "version": None, "on": TODAY}
    assert code(lambda: episodes.close(episode, **(own | close))) == refused


def test_an_episode_closes_once(clinic):
    episode = clinic.episode()
    close = {"by": by(clinic.lead), "version": None, "how": Ending.DIED, "on": TODAY}
    episodes.close(episode, **close)
    assert code(lambda: episodes.close(episode, **close)) == "closed-already"
    assert code(lambda: findings.record(episode, by=by(clinic.therapist), **CLOSED)) == "episode-closed"


def test_closing_cancels_its_appointments_and_leaves_them_to_be_told(clinic):
    appointment = booked(clinic)
    episode = appointment.purposes.get().follow_up.episode
    own = {"version": None, "on": TODAY, "received_by": "Another hand clinic"}
    episodes.close(episode, by=by(clinic.lead), how=Ending.TRANSFERRED, **own)
    appointment.refresh_from_db()
    assert (appointment.outcome, appointment.live, appointment.told) == ("cancelled-by-clinic", False, "untold")
    assert not episode.standings.exists()


def test_the_same_digit_twice_on_one_day(clinic):
    first = clinic.episode()
    assert code(lambda: clinic.episode(first.patient)) == "episode-known"


@pytest.mark.parametrize(
    ("facts", "refused"),
    [
        ({"surgery_on": date(2027, 5, 1)}, "surgery-too-far"),
        ({"surgery_on": date(1959, 12, 31)}, "surgery-before-birth"),
        ({"arrived_on": date(2026, 4, 2)}, "arrived-in-future"),
        ({"arrived_on": date(2026, 3, 19)}, "arrived-before-surgery"),
    ],
)
def test_a_date_of_an_episode_that_cannot_be(clinic, facts, refused):
    patient = clinic.patient()
    assert code(lambda: clinic.episode(patient, **facts)) == refused


def test_a_surgery_date_is_not_moved_past_a_finding(clinic):
    episode = clinic.episode()
    findings.record(episode, by=by(clinic.therapist), **CLOSED)
    later = {"by": by(clinic.admin), "version": None, "surgery_on": date(2026, 4, 2)}
    assert code(lambda: episodes.correct(episode, **later)) == "finding-before-surgery"


@pytest.mark.parametrize(
    ("given", "refused"),
    [
        ({"item": "tea", "from_day": 3}, "item-unknown"),
        ({"item": "driving"}, "one-thing"),
        ({"item": "driving", "from_day": 3, "locked": True}, "one-thing"),
        ({"item": "stitches-out", "locked": True}, "window-incomplete"),
        ({"item": "stitches-out", "earliest": 9, "target": 8, "latest": 10}, "window-order"),
        ({"item": "driving", "from_day": 3, "why": ""}, "who-and-why"),
    ],
)
def test_an_instruction_that_cannot_be(clinic, given, refused):
    episode = clinic.episode()
    own = {"by": by(clinic.therapist), "by_whom": "Surgeon", "why": "swelling"}
    assert code(lambda: instructions.give(episode, **(own | given))) == refused


def test_an_instruction_asks_to_be_confirmed_once_the_surgery_date_was_corrected(clinic):
    episode = clinic.episode()
    own = {"by_whom": "Surgeon", "why": "swelling", "item": "driving", "from_day": 9}
    given = instructions.give(episode, by=by(clinic.therapist), **own)
    episodes.correct(episode, by=by(clinic.admin), version=None, surgery_on=date(2026, 3, 19))
    given.refresh_from_db()
    assert given.confirmed_for != date(2026, 3, 19)
    instructions.confirm(given, by=by(clinic.therapist))
    assert given.confirmed_for == date(2026, 3, 19)


@pytest.mark.parametrize(
    ("day", "refused"),
    [
        (date(2026, 3, 31), "day-past"),
        (date(2026, 4, 3), "day-closed"),
        (date(2028, 1, 4), "beyond-holidays"),
    ],
)
def test_a_day_that_cannot_be_booked(clinic, day, refused):
    row = clinic.episode().follow_ups.get(key="stitches-out")
    clinic.session(day)
    assert code(lambda: clinic.book([row], day)) == refused


def test_a_day_before_the_window_needs_the_name_of_who_approved_it(clinic):
    row = clinic.episode(surgery_on=date(2026, 3, 30)).follow_ups.get(key="stitches-out")
    on = clinic.session(date(2026, 4, 9)).on
    assert code(lambda: clinic.book([row], on)) == "too-early"
    assert code(lambda: clinic.book([row], on, approved_by="Mr Vane")) == "early-why"
    clinic.book([row], on, approved_by="Mr Vane", approved_why="away from day 12")


def test_one_follow_up_is_not_booked_twice(clinic):
    row = booked(clinic).purposes.get().follow_up
    assert code(lambda: clinic.book([row], date(2026, 4, 2))) == "booked-already"


def test_one_appointment_is_for_one_patient(clinic):
    rows = [clinic.episode().follow_ups.get(key="stitches-out") for _ in range(2)]
    clinic.session(date(2026, 4, 2))
    assert code(lambda: clinic.book(rows, date(2026, 4, 2))) == "one-patient"


def test_an_appointment_to_come_is_not_attended_and_ends_once(clinic):
    appointment = booked(clinic)
    end = {"by": by(clinic.admin)}
    assert code(lambda: appointments.end(appointment, outcome=Outcome.ATTENDED, **end)) == "not-yet"
    appointments.end(appointment, outcome=Outcome.CANCELLED_BY_CLINIC, **end)
    assert appointment.told == "untold"
    assert code(lambda: appointments.end(appointment, outcome=Outcome.CANCELLED_BY_PATIENT, **end)) == "ended-already"


def test_a_removal_is_never_ticked_off(clinic):
    row = clinic.episode().follow_ups.get(key="stitches-out")
    assert code(lambda: reviews.complete(row, by=by(clinic.therapist), on=TODAY)) == "needs-a-finding"


def test_a_review_lies_within_a_year(clinic):
    episode = clinic.episode()
    for days in (0, 366):
        call = {"by": by(clinic.therapist), "on": TODAY, "in_days": days}
        assert code(lambda c=call: reviews.set_review(episode, **c)) == "review-days"


def test_a_number_names_one_patient(clinic):
    clinic.patient(nhs_number=NHS_NUMBERS[1])
    other = clinic.patient()
    call = {"by": by(clinic.admin), "version": None, "numbers": {"nhs-number": NHS_NUMBERS[1]}}
    assert code(lambda: patients.correct(other, **call)) == "number-taken"


@pytest.mark.parametrize(
    ("dates", "refused"),
    [
        ({"received_on": date(2026, 4, 2)}, "received-in-future"),
        ({"arrived_on": date(2026, 4, 2)}, "arrived-in-future"),
        ({"arrived_on": date(2026, 3, 1)}, "arrived-before-receipt"),
    ],
)
def test_a_date_of_a_referral_that_cannot_be(clinic, dates, refused):
    call = {"by": by(clinic.admin), "received_on": date(2026, 3, 2), "source": "hand surgery"} | dates
    patient = clinic.patient()
    assert code(lambda: referrals.add(patient, **call)) == refused


def test_a_referral_is_not_received_after_what_is_recorded_of_it(clinic):
    said = {"by": by(clinic.admin), "received_on": date(2026, 3, 2), "source": "hand surgery"}
    referral = referrals.add(clinic.patient(), arrived_on=date(2026, 3, 9), **said)
    later = {"by": by(clinic.admin), "version": None, "received_on": date(2026, 3, 10)}
    assert code(lambda: referrals.correct(referral, **later)) == "arrived-before-receipt"


def test_what_an_attended_visit_left_undone_can_be_booked_again(clinic):
    appointment = booked(clinic)
    row = appointment.purposes.get().follow_up
    appointments.end(appointment, by=by(clinic.admin, date(2026, 4, 2)), outcome=Outcome.ATTENDED)
    row.refresh_from_db()
    assert row.state == "due"
    clinic.book([row], date(2026, 4, 7), today=date(2026, 4, 2))
