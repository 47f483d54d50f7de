"""A session called off: whom it concerns, where they could go, and what happens to each row that was accepted."""

import re
from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from caseload.actions import appointments, rehousing
from caseload.models import Appointment, Episode, Told
from caseload.reads.rehousing import rehousing as proposals
from caseload.reads.rehousing import to_come, waiting, waiting_count
from tests.scenario import Fernhollow, _staff, by
from tests.web.reading import read

ILL = date(2026, 4, 7)
SURGERIES = (date(2026, 3, 24), date(2026, 3, 22), date(2026, 3, 23))


@pytest.fixture
def lost(clinic: Fernhollow) -> list[Appointment]:
    """Three patients of one session, whose windows end on 9, 7 and 8 April (worked day 4)."""
    session = clinic.session(ILL, end=600)
    found = []
    for start, surgery_on in zip((540, 560, 580), SURGERIES, strict=True):
        patient = clinic.patient(family=f"Day{surgery_on.day}", given="Pat")
        row = clinic.episode(patient, surgery_on=surgery_on).follow_ups.get(key="stitches-out")
        found.append(appointments.book([row], by=by(clinic.admin), session=session, start=start))
    return found


@pytest.fixture
def places(clinic: Fernhollow) -> None:
    """One place each on Tuesday, Wednesday and Thursday, with somebody else."""
    other = _staff("otto", is_therapist=True)
    for on in (ILL, date(2026, 4, 8), date(2026, 4, 9)):
        clinic.session(on, start=800, end=820, therapist=other)


def address(lost) -> str:
    return f"/sessions/{lost[0].session.code}/call-off/"


def sent(page, **typed):
    """What a browser sends of the page: its key and every ticked box."""
    text = read(page)
    ticked = re.findall(r'name="accept" value="([^"]+)" checked', text)
    every = re.findall(r'name="place" value="([^"]+)"', text)
    return {"key": page.context["form"]["key"].value(), "accept": ticked, "place": every} | typed


def days(lost) -> dict[int, date]:
    return {each.patient_id: Appointment.objects.get(pk=each.pk).on for each in lost}


def test_the_page_proposes_in_order_of_latest_day_before_anything_is_done(lost, places, admin):
    page = read(admin.get(address(lost)))
    assert page.index("DAY22") < page.index("DAY23") < page.index("DAY24")
    assert page.count('" checked') == 3 and Appointment.objects.filter(live=True).count() == 3
    assert page.index("13:20") < page.index("DAY23")


def test_one_button_calls_off_and_rehouses_what_is_ticked(lost, places, admin):
    answer = admin.post(address(lost), sent(admin.get(address(lost)), why="therapist ill"))
    assert answer.status_code == 302
    assert "whoever has no other place stands on the booking list" in read(admin.get(answer["Location"]))
    assert list(days(lost).values()) == [date(2026, 4, 9), ILL, date(2026, 4, 8)]
    assert set(Appointment.objects.values_list("told", "live")) == {(Told.UNTOLD, True)}


def test_sent_twice_it_is_done_once(lost, places, admin):
    typed = sent(admin.get(address(lost)), why="therapist ill")
    assert [admin.post(address(lost), typed).status_code for _ in range(2)] == [302, 302]
    assert set(Appointment.objects.values_list("sequence", flat=True)) == {2}


def test_without_a_reason_nothing_happens(lost, places, admin):
    answer = admin.post(address(lost), sent(admin.get(address(lost)), why=""))
    assert answer.status_code == 422 and Appointment.objects.filter(live=True).count() == 3


def test_a_breach_is_named_and_not_ticked(clinic, lost, admin):
    clinic.session(date(2026, 4, 9), start=800, end=860)
    text = read(admin.get(address(lost)))
    assert text.count('" checked') == 1
    assert "2 days after its last day" in text and "1 day after its last day" in text


def test_only_those_in_reach_are_counted_as_waiting(clinic, lost, admin):
    other = _staff("otto", is_therapist=True)
    Episode.objects.update(therapist=clinic.therapist)
    admin.post(address(lost), sent(admin.get(address(lost)), why="ill"))
    assert [waiting_count(by(each)) for each in (clinic.admin, clinic.therapist, other)] == [3, 3, 0]


def test_what_is_not_ticked_stays_on_the_list_untold(clinic, lost, admin):
    clinic.session(date(2026, 4, 9), start=800, end=860)
    admin.post(address(lost), sent(admin.get(address(lost)), why="ill"))
    assert waiting_count() == 2 and Appointment.objects.filter(live=False, told=Told.UNTOLD).count() == 2


def test_who_has_no_place_says_why(lost, admin):
    text = read(admin.get(address(lost)))
    assert text.count("no place") == 3 and "No session at this site takes this visit" in text


def test_a_row_that_was_overtaken_is_said_with_a_new_proposal(clinic, lost, places, admin):
    typed = sent(admin.get(address(lost)), why="ill")
    walker = clinic.episode(clinic.patient(family="Quick"), surgery_on=date(2026, 3, 22))
    clinic.book([walker.follow_ups.get(key="stitches-out")], date(2026, 4, 9), approved_by="Dr V", approved_why="away")
    answer = admin.post(address(lost), typed)
    text = answer.content.decode()
    assert answer.status_code == 409 and "Overtaken meanwhile" in text and "QUICK" in text and "DAY24" in text
    assert waiting_count() == 1 and "no place" in text


def test_everybody_is_accepted_by_one_button(clinic, lost, admin):
    rehousing.call_off([lost[0].session], by=by(clinic.admin), why="ill")
    clinic.session(date(2026, 4, 9), start=800, end=860)
    page = admin.get(f"/rehousing/?session={lost[0].session.code}")
    assert page.content.decode().count("1 day after") == 1
    admin.post("/rehousing/", sent(page, all="1"))
    assert waiting_count() == 0 and set(days(lost).values()) == {date(2026, 4, 9)}


def test_those_who_were_booked_elsewhere_wait_no_more(clinic, lost):
    rehousing.call_off([lost[0].session], by=by(clinic.admin), why="ill")
    session = clinic.session(date(2026, 4, 9), start=800, end=860)
    row = lost[0].purposes.get().follow_up
    appointments.book([row], by=by(clinic.admin), session=session, start=800)
    assert waiting_count() == 2 and lost[0] not in waiting()


def test_whoever_is_called_off_already_is_led_to_the_list(clinic, lost, admin):
    rehousing.call_off([lost[0].session], by=by(clinic.admin), why="ill")
    assert "This session is called off: ill" in read(admin.get(address(lost)))


def test_a_therapist_looks_but_does_not_accept(clinic, lost, therapist):
    assert therapist.get(address(lost)).status_code == 403
    rehousing.call_off([lost[0].session], by=by(clinic.admin), why="ill")
    assert "A booking admin or a lead accepts these." in therapist.get("/rehousing/").content.decode()
    assert therapist.post("/rehousing/", {"all": "1"}).status_code == 403


@pytest.mark.parametrize("value", ["", "a", "a/b", "a/b/c", "a/b/99999", "//", "a/b/1/2", "x/y/10", "\0/y/10", "x/y/²"])
def test_what_no_page_sent_does_no_harm(clinic, lost, admin, value):
    rehousing.call_off([lost[0].session], by=by(clinic.admin), why="ill")
    assert admin.post("/rehousing/", {"accept": value}).status_code in (302, 409)
    assert waiting_count() == 3


def test_a_button_pressed_with_nothing_ticked_says_so(clinic, lost, admin):
    rehousing.call_off([lost[0].session], by=by(clinic.admin), why="ill")
    answer = admin.post("/rehousing/", sent(admin.get("/rehousing/"), accept=[]), follow=True)
    assert "Nothing was ticked, so nothing has changed." in answer.content.decode() and waiting_count() == 3


def test_an_empty_list_says_what_next(clinic, admin):
    assert "Nobody waits for another place" in admin.get("/rehousing/").content.decode()


def test_proposals_cost_the_same_queries_however_many(clinic, lost, places):
    counts = []
    for rows in (lost[:1], lost):
        with CaptureQueriesContext(connection) as asked:
            chosen = [each for each in to_come(lost[0].session) if each in rows]
            proposals(chosen, at=by().at, without=lost[0].session)
        counts.append(len(asked))
    assert counts[0] == counts[1] <= 4
