"""Calendars: an appointment as a file, and a therapist's own at a private address.

X03: a move and a cancellation each raise SEQUENCE by one, the UID stays, a cancelled visit is kept with
STATUS:CANCELLED (RFC 5546, 2.1.4 and 3.2.5, section numbers from memory). C07: the clocks of England go forward on
29 March 2026 and back on 25 October 2026 (published summer time), so 09:00 is 08:00 UTC in April and 09:00 in November.
"""

import re
from datetime import UTC, date, datetime, timedelta

import pytest
from django.test import Client
from icalendar import Calendar

from caseload.actions import appointments
from caseload.models import Feed, Patient
from caseload.timetable.terms import Outcome
from tests.scenario import by

PAGE = "/calendar-address/"
ON = date(2026, 4, 2)


@pytest.fixture
def booked(clinic):
    return clinic.book([clinic.episode().follow_ups.get(key="stitches-out")], ON)


@pytest.fixture
def address(therapist: Client, booked) -> str:
    text = therapist.post(f"{PAGE}make/").content.decode()
    return re.search(r"http://testserver(/feeds/[0-9a-f]{40}\.ics)", text)[1]


def read(client: Client, address: str):
    answer = client.get(address)
    assert answer.status_code == 200 and answer.headers["Content-Type"].startswith("text/calendar")
    return Calendar.from_ical(answer.content).events


def test_x03_moved_and_cancelled_it_is_the_same_visit_each_time_one_further_on(clinic, admin: Client, booked):
    path = f"/appointments/{booked.code}/calendar.ics"
    seen = [admin.get(path)]
    there = clinic.session(date(2026, 4, 7))
    admin.post(f"/appointments/{booked.code}/move/", {
        "slot": f"{there.code}/560", "way": "in-person", "told": "told", "version": booked.version,
    })  # fmt: skip
    seen.append(admin.get(path))
    admin.post(f"/appointments/{booked.code}/outcome/", {"outcome": "cancelled-by-patient", "version": "2"})
    seen.append(admin.get(path))
    events = [Calendar.from_ical(answer.content).events[0] for answer in seen]
    assert [event["sequence"] for event in events] == [0, 1, 2]
    assert len({str(event["uid"]) for event in events}) == 1
    assert [event["status"] for event in events] == ["CONFIRMED", "CONFIRMED", "CANCELLED"]
    assert events[1].start == datetime(2026, 4, 7, 8, 20, tzinfo=UTC)


def test_the_file_of_an_appointment_holds_no_name_and_says_where(admin: Client, booked):
    text = admin.get(f"/appointments/{booked.code}/calendar.ics").content.decode()
    assert booked.patient.family not in text and booked.patient.given not in text
    assert "SUMMARY:Hand therapy visit\\, 20 minutes" in text and "LOCATION:Fernhollow" in text


def test_after_the_clocks_went_back_nine_is_nine(clinic, admin: Client):
    row = clinic.episode(surgery_on=date(2026, 10, 20)).follow_ups.get(key="stitches-out")
    late = clinic.book([row], date(2026, 11, 3))
    (event,) = Calendar.from_ical(admin.get(f"/appointments/{late.code}/calendar.ics").content).events
    assert event.start == datetime(2026, 11, 3, 9, tzinfo=UTC)


def test_the_address_is_shown_once_and_only_its_digest_is_kept(therapist: Client, address: str):
    key = address.removeprefix("/feeds/").removesuffix(".ics")
    assert key not in therapist.get(PAGE).content.decode()
    assert Feed.objects.get().digest != key


def test_whoever_has_the_address_reads_it_without_signing_in_and_nothing_is_kept_of_it(address: str):
    answer = Client().get(address)
    assert not answer.cookies and answer.headers["Cache-Control"] == "no-store, private"
    assert Client().post(address).status_code == 405


def test_a_feed_says_what_for_and_no_initials_until_they_are_asked_for(therapist: Client, address: str):
    Patient.objects.update(given="Kit", family="Marlow")
    assert [str(event["summary"]) for event in read(Client(), address)] == ["Visit: stitches out"]
    assert "can be enough to tell who" in therapist.get(PAGE).content.decode()
    therapist.post(f"{PAGE}initials/", {"shown": "1"})
    assert [str(event["summary"]) for event in read(Client(), address)] == ["Visit K.M.: stitches out"]
    therapist.post(f"{PAGE}initials/")
    assert "K.M." not in Client().get(address).content.decode()


@pytest.mark.parametrize("gone", ["withdrawn", "replaced", "left", "unknown"])
def test_an_address_that_is_no_more_is_as_unknown_as_one_that_never_was(clinic, therapist, address: str, gone: str):
    if gone == "withdrawn":
        therapist.post(f"{PAGE}withdraw/")
    if gone == "replaced":
        therapist.post(f"{PAGE}make/")
    if gone == "left":
        type(clinic.therapist).objects.filter(pk=clinic.therapist.pk).update(is_active=False)
    asked = f"/feeds/{'0' * 40}.ics" if gone == "unknown" else address
    assert Client().get(asked).status_code == 404


def test_a_cancelled_one_stays_for_a_month_as_cancelled(clinic, booked, address: str, time_machine_at):
    appointments.end(booked, by=by(clinic.admin), outcome=Outcome.CANCELLED_BY_PATIENT)
    (event,) = read(Client(), address)
    assert (event["status"], event["sequence"]) == ("CANCELLED", 1)
    time_machine_at(31)
    assert read(Client(), address) == []


def test_one_of_a_fortnight_ago_has_left_the_feed(booked, address: str, time_machine_at):
    time_machine_at(15)
    assert len(read(Client(), address)) == 1
    time_machine_at(16)
    assert read(Client(), address) == []


def test_a_feed_costs_the_same_however_full_it_is(clinic, address: str, django_assert_num_queries):
    with django_assert_num_queries(4):
        Client().get(address)
    for _ in range(5):
        clinic.book([clinic.episode().follow_ups.get(key="stitches-out")], ON)
    with django_assert_num_queries(4):
        assert len(read(Client(), address)) == 6


def test_other_therapists_are_not_in_it(clinic, address: str):
    other = clinic.session(date(2026, 4, 7), therapist=clinic.lead)
    appointments.book(
        [clinic.episode().follow_ups.get(key="stitches-out")], by=by(clinic.admin), session=other, start=540
    )
    assert len(read(Client(), address)) == 1


def test_a_second_press_of_the_same_button_makes_no_second_address(therapist: Client, booked):
    said = {"key": "1f0b4a52-9f5c-4d52-8a55-0d9f5d0f7a11"}
    therapist.post(f"{PAGE}make/", said)
    kept = Feed.objects.get().digest
    assert "made already by this button" in therapist.post(f"{PAGE}make/", said).content.decode()
    assert Feed.objects.get().digest == kept


def test_only_a_therapist_has_one(admin: Client):
    assert admin.get(PAGE).status_code == 403 and admin.post(f"{PAGE}make/").status_code == 403


def test_the_key_stands_in_no_log(address: str, therapist: Client, caplog):
    therapist.post(f"{PAGE}withdraw/")
    with caplog.at_level("INFO"):
        Client().get(address)
    told = [record for record in caplog.records if record.name == "caseload.requests"]
    assert told and not any(address in str(vars(record)) for record in caplog.records)


@pytest.fixture
def time_machine_at(clinic):
    """Let so many days pass from the day of the tests."""
    import time_machine

    running = []

    def travel(days: int) -> None:
        at = datetime(2026, 4, 1, 9, tzinfo=UTC) + timedelta(days=days)
        running.append(time_machine.travel(at, tick=False))
        running[-1].start()

    yield travel
    for one in reversed(running):
        one.stop()
