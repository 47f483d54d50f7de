"""Appointments by form: booked, moved, ended, told, taken back; a slot that is lost to somebody else."""

from datetime import date
from uuid import uuid4

import pytest
from django.test import Client
from django.utils.html import strip_tags

from caseload.actions import walk_ins
from caseload.models import Appointment, Episode, Session
from tests.scenario import TODAY, Fernhollow, by
from tests.web.posting import errors, send
from tests.web.reading import read

DAY = date(2026, 4, 2)


@pytest.fixture
def session(clinic: Fernhollow) -> Session:
    return clinic.session(DAY)


@pytest.fixture
def episode(clinic: Fernhollow, session: Session) -> Episode:
    return clinic.episode()


@pytest.fixture
def form(episode: Episode) -> str:
    return f"/episodes/{episode.code}/appointments/new/?for=stitches-out"


def booked(client: Client, form: str, **typed: object) -> Appointment:
    assert send(client, form, **typed).status_code == 302
    return Appointment.objects.get()


def times(page) -> list[str]:
    """The choices as they read."""
    return [" ".join(strip_tags(words).split()) for _, words in page.context["form"].fields["slot"].widget.choices]


def test_the_best_place_is_chosen_at_first_and_says_why(admin: Client, form: str, session: Session):
    page = admin.get(form)
    first = next(iter(times(page)))
    assert first == "Thu 2 Apr 2026 · day 13, 09:00 to 09:20 Thea Marsh: 1 day before the target, own therapist"
    appointment = booked(admin, form)
    assert (appointment.session, appointment.start_minute, appointment.minutes) == (session, 540, 20)


def test_one_visit_may_serve_two_digits(admin: Client, clinic: Fernhollow, episode: Episode, form: str):
    other = clinic.episode(episode.patient, digit="index")
    both = [f"{row.code}/stitches-out" for row in (episode, other)]
    appointment = booked(admin, form, follow_ups=both)
    assert appointment.purposes.count() == 2 and appointment.minutes == 40 and appointment.seats.count() == 2


def test_an_interpreter_makes_the_visit_longer_and_is_asked_about(admin: Client, clinic: Fernhollow):
    clinic.session(DAY)
    episode = clinic.episode(clinic.patient(interpreter=True, language="Welsh"))
    form = f"/episodes/{episode.code}/appointments/new/?for=stitches-out"
    assert "interpreter_told" in admin.get(form).context["form"].fields
    appointment = booked(admin, form, interpreter_told="on")
    assert (appointment.minutes, appointment.interpreter_told) == (40, True)


def test_another_day_shows_every_free_time_of_it_and_keeps_what_was_typed(admin: Client, clinic: Fernhollow, form: str):
    clinic.session(date(2026, 4, 9))
    page = send(admin, form, look_on="9/4", told="message-left", again="1")
    assert page.status_code == 200 and page.context["form"]["told"].value() == "message-left"
    assert len(times(page)) == 10 and all("4 days after the last day" in words for words in times(page))


def test_a_day_with_nothing_free_says_so(admin: Client, form: str):
    page = send(admin, form, look_on="10/4", again="1")
    text = page.content.decode()
    assert "No time is free then." in text and '<span class="soft">none</span>' in text


def test_days_before_the_window_are_offered_only_when_asked_for_and_need_a_name_and_a_reason(admin, clinic):
    clinic.session(date(2026, 4, 7))
    late = clinic.episode(surgery_on=date(2026, 3, 27))
    form = f"/episodes/{late.code}/appointments/new/?for=stitches-out"
    assert times(admin.get(form)) == []
    page = send(admin, form, early="on", again="1")
    assert "1 day before the first day" in times(page)[0]
    answer = send(admin, form, page=page, look_on="")
    assert errors(answer) == {"approved_by": ["too-early"]}
    assert errors(send(admin, form, page=page, approved_by="Dr Wren")) == {"approved_why": ["early-why"]}
    assert send(admin, form, page=page, approved_by="Dr Wren", approved_why="away after").status_code == 302


def test_whoever_loses_a_slot_is_told_who_has_it_and_gets_others(admin: Client, clinic: Fernhollow, form: str):
    page = admin.get(form)
    other = clinic.episode(clinic.patient(given="Ivo", family="Harrow"))
    clinic.book([other.follow_ups.get(key="stitches-out")], DAY)
    answer = send(admin, form, page=page, told="message-left")
    assert answer.status_code == 422 and errors(answer) == {"slot": ["slot-taken"]}
    assert "HARROW, Ivo has it" in answer.content.decode()
    assert len(times(answer)) >= 3 and not any("09:00" in words for words in times(answer))
    assert answer.context["form"]["told"].value() == "message-left"


@pytest.mark.parametrize(
    "slot", ["", "nonsense", "zzzzzzzzzzzz/540", "{code}/545", "{code}/9999", "{code}/-20", "{code}"]
)
def test_a_place_that_is_none_is_refused(admin: Client, form: str, session: Session, slot: str):
    answer = send(admin, form, slot=slot.format(code=session.code))
    assert answer.status_code == 422 and set(errors(answer)) == {"slot"}


def test_a_session_of_another_site_is_refused(admin: Client, clinic: Fernhollow, form: str):
    other = clinic.session(date(2026, 4, 7), site=clinic.quay)
    assert errors(send(admin, form, slot=f"{other.code}/540")) == {"slot": ["other-site"]}


def test_a_follow_up_of_another_patient_is_refused(admin: Client, clinic: Fernhollow, form: str):
    name = f"{clinic.episode().code}/stitches-out"
    assert errors(send(admin, form, follow_ups=[name])) == {"follow_ups": ["invalid_choice"]}


def test_a_form_sent_twice_books_once(admin: Client, form: str):
    page = admin.get(form)
    assert [send(admin, form, page=page).status_code for _ in range(2)] == [302, 302]
    again = {"key": str(uuid4())}
    assert errors(send(admin, form, page=page, **again)) == {"follow_ups": ["invalid_choice"]}
    assert Appointment.objects.count() == 1


def test_an_appointment_is_moved_and_stays_the_same_one(admin: Client, clinic: Fernhollow, form: str):
    appointment = booked(admin, form)
    later = clinic.session(date(2026, 4, 7))
    address = f"/appointments/{appointment.code}/move/"
    assert "Now: Thu 2 Apr 2026, 09:00" in read(admin.get(address))
    send(admin, address, slot=f"{later.code}/560", told="untold")
    appointment.refresh_from_db()
    assert (appointment.session, appointment.start_minute, appointment.sequence) == (later, 560, 1)
    assert (appointment.told, appointment.untold_since_on) == ("untold", TODAY)


def test_a_move_of_what_was_moved_meanwhile_is_a_conflict(admin: Client, lead: Client, clinic: Fernhollow, form: str):
    appointment = booked(admin, form)
    later, address = clinic.session(date(2026, 4, 7)), f"/appointments/{appointment.code}/move/"
    page = admin.get(address)
    send(lead, address, slot=f"{later.code}/560")
    assert send(admin, address, page=page, slot=f"{later.code}/600").status_code == 409


def test_the_outcome_of_an_appointment_is_recorded(admin: Client, form: str):
    appointment = booked(admin, form)
    address = f"/appointments/{appointment.code}/outcome/"
    assert errors(send(admin, address, outcome="attended")) == {"outcome": ["not-yet"]}
    send(admin, address, outcome="cancelled-by-patient", why="has a cold")
    appointment.refresh_from_db()
    assert (appointment.outcome, appointment.live, appointment.seats.count()) == ("cancelled-by-patient", False, 0)


def test_whom_the_clinic_cancels_is_to_be_told_unless_they_know(admin: Client, form: str):
    appointment = booked(admin, form)
    send(admin, f"/appointments/{appointment.code}/outcome/", outcome="cancelled-by-clinic", told="told")
    appointment.refresh_from_db()
    assert (appointment.told, appointment.untold_since_on) == ("told", None)


def test_an_outcome_recorded_meanwhile_is_a_conflict_that_shows_it(admin: Client, therapist: Client, form: str):
    address = f"/appointments/{booked(admin, form).code}/outcome/"
    page = admin.get(address)
    send(therapist, address, outcome="cancelled-by-clinic")
    answer = send(admin, address, page=page, outcome="cancelled-by-patient")
    assert answer.status_code == 409
    assert ("How it ended", "cancelled by the clinic", "cancelled by the patient") in answer.context["differences"]


def test_whether_the_patient_knows_is_recorded(admin: Client, form: str):
    appointment = booked(admin, form, told="untold")
    send(admin, f"/appointments/{appointment.code}/told/", told="message-left")
    appointment.refresh_from_db()
    assert (appointment.told, appointment.untold_since_on) == ("message-left", None)


def test_a_booking_is_taken_back_from_the_page(admin: Client, episode: Episode, form: str):
    appointment = booked(admin, form)
    page = admin.get(f"/episodes/{episode.code}/").content.decode()
    assert f"/appointments/{appointment.code}/undo/" in page
    admin.post(f"/appointments/{appointment.code}/undo/", {"key": str(uuid4()), "back": "/overdue/"})
    assert not Appointment.objects.exists() and episode.follow_ups.get(key="stitches-out").booked_on is None


def test_taking_back_twice_lands_where_the_first_did(admin: Client, form: str):
    address, sent = f"/appointments/{booked(admin, form).code}/undo/", {"key": str(uuid4()), "back": "/overdue/"}
    assert [admin.post(address, sent).headers["Location"] for _ in range(2)] == ["/overdue/"] * 2
    assert admin.post(address).status_code == 404 and admin.get(address).status_code == 405


@pytest.mark.parametrize("back", ["https://elsewhere.example.org/", "//elsewhere.example.org", "javascript:x"])
def test_a_button_never_leads_away_from_here(admin: Client, form: str, back: str):
    appointment = booked(admin, form)
    answer = admin.post(f"/appointments/{appointment.code}/undo/", {"back": back})
    assert "elsewhere" not in answer["Location"] and "javascript" not in answer["Location"]


def test_a_patient_who_came_today_is_marked_as_come(therapist: Client, clinic: Fernhollow):
    episode = clinic.episode(surgery_on=date(2026, 3, 18))
    appointment = clinic.book([episode.follow_ups.get(key="stitches-out")], TODAY)
    therapist.post(f"/appointments/{appointment.code}/arrived/")
    appointment.refresh_from_db()
    assert appointment.arrived_at is not None


def test_what_is_still_booked_for_something_done_is_shown_to_be_cancelled(therapist: Client, clinic: Fernhollow):
    episode = clinic.episode(suture="none", technique="percutaneous", surgery_on=date(2026, 3, 25))
    clinic.book([episode.follow_ups.get(key="wound-check")], DAY, by=by(clinic.admin))
    walk_ins.see([episode.follow_ups.get(key="wound-check")], by=by(clinic.therapist))
    page = therapist.get(f"/episodes/{episode.code}/").content.decode()
    assert "Nothing is left for this visit" in page


def test_namesakes_are_told_apart_before_a_visit_is_booked(admin: Client, clinic: Fernhollow):
    clinic.session(DAY)
    for born in (date(1960, 1, 2), date(1971, 3, 4)):
        episode = clinic.episode(clinic.patient(given="Ivo", family="Harrow", born_on=born))
    form = f"/episodes/{episode.code}/appointments/new/?for=stitches-out"
    assert errors(send(admin, form)) == {"birth_date_confirmed": ["required"]}
    assert send(admin, form, birth_date_confirmed="on").status_code == 302
