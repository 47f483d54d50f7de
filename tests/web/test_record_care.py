"""What is to happen, by form: booked days, outcomes, instructions, reviews, calls."""

from datetime import date

import pytest
from django.test import Client

from caseload.models import Appointment, Contact, Episode, Instruction, SetReview
from tests.scenario import Fernhollow
from tests.web.posting import errors, send


@pytest.fixture
def episode(clinic: Fernhollow) -> Episode:
    return clinic.episode()


@pytest.fixture
def address(episode: Episode) -> str:
    return f"/episodes/{episode.code}/"


def booked(client: Client, address: str, **typed: object) -> Appointment:
    send(client, f"{address}appointments/new/?for=stitches-out", **typed)
    return Appointment.objects.get()


def test_the_proposed_day_stands_in_the_form_and_is_noted(admin: Client, address: str):
    page = admin.get(f"{address}appointments/new/?for=stitches-out")
    assert page.context["form"]["on"].value() == "Thu 2 Apr 2026"
    assert booked(admin, address).on == date(2026, 4, 2)


def test_one_appointment_may_serve_two_digits(admin: Client, clinic: Fernhollow, episode: Episode, address: str):
    other = clinic.episode(episode.patient, digit="index")
    both = [f"{row.code}/stitches-out" for row in (episode, other)]
    send(admin, f"{address}appointments/new/", follow_ups=both, on="2/4")
    appointment = Appointment.objects.get()
    assert appointment.purposes.count() == 2 and appointment.minutes == 40


@pytest.mark.parametrize(
    ("typed", "wrong"),
    [
        ({"on": "3/4/26"}, {"on": ["day-closed"]}),
        ({"on": "yesterday"}, {"on": ["day-past"]}),
        ({"on": "today", "approved_by": ""}, {}),
        ({"on": "20/1/28"}, {"on": ["beyond-holidays"]}),
        ({"follow_ups": []}, {"follow_ups": ["required"]}),
    ],
)
def test_a_day_that_cannot_be_is_refused(admin: Client, address: str, typed, wrong):
    answer = send(admin, f"{address}appointments/new/?for=stitches-out", **typed)
    assert (errors(answer) if wrong else answer.status_code) == (wrong or 302)


def test_a_day_before_the_window_needs_a_name(admin: Client, clinic: Fernhollow):
    late = clinic.episode(surgery_on=date(2026, 3, 27))
    form = f"/episodes/{late.code}/appointments/new/?for=stitches-out"
    assert errors(send(admin, form, on="7/4/26")) == {"approved_by": ["too-early"]}
    assert send(admin, form, on="7/4/26", approved_by="Dr Wren").status_code == 302


def test_what_is_booked_cannot_be_booked_again(admin: Client, address: str):
    page = admin.get(f"{address}appointments/new/?for=stitches-out")
    booked(admin, address)
    answer = send(admin, f"{address}appointments/new/", page=page, key=None)
    assert errors(answer) == {"follow_ups": ["invalid_choice"]}


def test_the_outcome_of_an_appointment_is_recorded(admin: Client, address: str):
    appointment = booked(admin, address)
    form = f"/appointments/{appointment.code}/outcome/"
    assert errors(send(admin, form, outcome="attended")) == {"outcome": ["not-yet"]}
    send(admin, form, outcome="cancelled-by-patient", why="has a cold")
    appointment.refresh_from_db()
    assert (appointment.outcome, appointment.live) == ("cancelled-by-patient", False)


def test_an_outcome_recorded_meanwhile_is_a_conflict_that_shows_it(admin: Client, therapist: Client, address: str):
    appointment = booked(admin, address)
    form = f"/appointments/{appointment.code}/outcome/"
    page = admin.get(form)
    send(therapist, form, outcome="cancelled-by-clinic")
    answer = send(admin, form, page=page, outcome="cancelled-by-patient")
    assert answer.status_code == 409
    assert ("How it ended", "cancelled by the clinic", "cancelled by the patient") in answer.context["differences"]


def test_whether_the_patient_knows_is_recorded(admin: Client, address: str):
    appointment = booked(admin, address, told="untold")
    send(admin, f"/appointments/{appointment.code}/told/", told="message-left")
    appointment.refresh_from_db()
    assert (appointment.told, appointment.untold_since_on) == ("message-left", None)


@pytest.mark.parametrize(
    ("typed", "wrong"),
    [
        ({"item": "stitches-out", "earliest": "16"}, {"earliest": ["window-incomplete"]}),
        ({"item": "stitches-out", "earliest": "20", "target": "18", "latest": "21"}, {"target": ["window-order"]}),
        ({"item": "driving"}, {"from_day": ["one-thing"]}),
        ({"item": "driving", "from_day": "9", "locked": "on"}, {"from_day": ["one-thing"]}),
        ({"item": "juggling", "from_day": "9"}, {"item": ["invalid_choice"]}),
        ({"item": "driving", "from_day": "9", "why": ""}, {"why": ["required"]}),
    ],
)
def test_an_instruction_that_says_nothing_clear_is_refused(therapist: Client, address: str, typed, wrong):
    answer = send(therapist, f"{address}instructions/new/", **({"by_whom": "Dr Wren", "why": "thin skin"} | typed))
    assert errors(answer) == wrong


def test_an_instruction_replaces_the_rules_and_can_be_withdrawn(therapist: Client, episode: Episode, address: str):
    window = {"item": "stitches-out", "earliest": "16", "target": "18", "latest": "21"}
    send(therapist, f"{address}instructions/new/", by_whom="Dr Wren", why="thin skin", **window)
    assert "Stitches out: day 16 to 21 after surgery, best on day 18" in therapist.get(address).content.decode()
    assert episode.follow_ups.get(key="stitches-out").latest_on == date(2026, 4, 10)
    therapist.post(f"{address}instructions/{Instruction.objects.get().pk}/withdraw/")
    assert episode.follow_ups.get(key="stitches-out").latest_on == date(2026, 4, 5)


def test_a_review_is_set_with_its_window_shown_first(therapist: Client, episode: Episode, address: str):
    page = send(therapist, f"{address}reviews/new/", in_days="14", preview="1")
    assert page.context["moves"] == ["Review as set: added, Wed 15 Apr 2026"]
    send(therapist, f"{address}reviews/new/", page=page)
    assert SetReview.objects.get().in_days == 14


@pytest.mark.parametrize("days", ["0", "366", "a week", ""])
def test_a_review_is_set_in_one_to_365_days(therapist: Client, address: str, days: str):
    assert set(errors(send(therapist, f"{address}reviews/new/", in_days=days))) == {"in_days"}


def test_a_review_is_ticked_off_but_a_removal_never(therapist: Client, episode: Episode, address: str):
    form = f"{address}follow-ups/stitches-out/done/"
    assert errors(send(therapist, form)) == {"__all__": ["needs-a-finding"]}
    assert send(therapist, f"{address}follow-ups/outcome-review/done/", note="seen on the ward").status_code == 302
    assert episode.follow_ups.get(key="outcome-review").state == "done"


def test_a_call_is_logged_for_the_episode_or_the_patient(admin: Client, episode: Episode, address: str):
    send(admin, f"{address}contacts/new/", reached="no-answer")
    send(admin, f"/patients/{episode.patient.code}/contacts/new/", reached="spoke", text="will come on Thursday")
    assert [row.episode for row in Contact.objects.order_by("id")] == [episode, None]
    assert "will come on Thursday" in admin.get(f"/patients/{episode.patient.code}/").content.decode()
