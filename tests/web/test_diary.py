"""The diary by day and week: what stands in each slot, moved from it, filled from it, and taken away as a file."""

import re
from datetime import date

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from caseload.actions import appointments, rehousing
from caseload.models import Appointment, Slot
from caseload.reads.diary import diary_of
from caseload.timetable.terms import Outcome
from tests.scenario import TODAY, Fernhollow, _staff, by
from tests.web.fuzz import ask_nonsense
from tests.web.reading import read

DAY = date(2026, 4, 7)
ADDRESS = f"/diary/?on={DAY}"


def due(episode, key: str = "stitches-out"):
    return episode.follow_ups.get(key=key)


@pytest.fixture
def booked(clinic: Fernhollow) -> Appointment:
    """Operated on 24 March: its window is Sun 5 to Thu 9 April (day 12 to 16)."""
    clinic.session(DAY, end=640)
    episode = clinic.episode(clinic.patient(family="Moss", given="Ada"), surgery_on=date(2026, 3, 24))
    return clinic.book([due(episode)], DAY)


def test_a_day_shows_each_slot_free_held_or_booked(booked, admin):
    Slot.objects.filter(minute=560).update(held_why="for urgent patients")
    page = read(admin.get(ADDRESS))
    assert "MOSS, Ada" in page and "born Sat 2 Jan 1960" in page and "day 14" in page and "Stitches out" in page
    assert "held back: for urgent patients" in page and "3 free · 1 held back · 1 booked" in page
    assert page.index("09:00") < page.index("09:20") < page.index("09:40")


def test_a_long_visit_spans_its_slots(clinic, booked, admin):
    episode = clinic.episode(clinic.patient(interpreter=True, language="Polish"), surgery_on=date(2026, 3, 24))
    session = booked.session
    appointments.book([due(episode)], by=by(clinic.admin), session=session, start=560)
    page = admin.get(ADDRESS).content.decode()
    assert "<small>to 10:00</small>" in page and "2 free · 3 booked" in page
    assert "interpreter: Polish" in page and "interpreter not told yet" in page


@pytest.mark.parametrize("typed", ["7/4/26", "7 apr", "+6", "Tue 7 Apr 2026"])
def test_a_day_is_asked_for_as_people_type_it(booked, admin, typed):
    assert "<h1>" in (page := admin.get("/diary/", {"on": typed}).content.decode())
    assert "MOSS, Ada" in page


def test_a_day_that_cannot_be_read_is_said_so(booked, admin):
    page = admin.get("/diary/", {"on": "31 feb"}).content.decode()
    assert "Today is shown." in page and "Wed 1 Apr 2026" in page


def test_the_days_beside_are_open_ones(booked, admin):
    context = admin.get(ADDRESS).context
    assert "2026-04-02" in context["previous"] and "2026-04-08" in context["next"]  # Good Friday to Easter Monday


def test_a_holiday_is_named(clinic, admin):
    page = admin.get("/diary/?on=2026-04-03").content.decode()
    assert "Closed: public holiday, Good Friday" in page and "No session on this day" in page


def test_a_week_has_each_day_with_its_counts_and_patients(booked, admin):
    page = admin.get(f"{ADDRESS}&as=week").content.decode().replace("\N{NO-BREAK SPACE}", " ")
    assert "4 free · 1 booked" in page and "09:00 MOSS, Ada" in page and "public holiday, Easter Monday" in page


def test_a_session_that_fell_away_is_struck_with_who_still_waits(clinic, booked, admin):
    rehousing.call_off([booked.session], by=by(clinic.admin), why="therapist ill")
    page = admin.get(ADDRESS).content.decode()
    assert "<s>09:00 to 10:40" in page and "called off: therapist ill" in page
    assert "1 still to be rehoused" in page and "MOSS" not in page


def test_whoever_did_not_attend_stays_on_the_day(clinic, booked, admin):
    appointments.end(booked, by=by(clinic.admin, DAY), outcome=Outcome.DID_NOT_ATTEND)
    page = admin.get(ADDRESS).content.decode()
    assert "did not attend" in page and "5 free" in page


def full(clinic: Fernhollow, sessions: int) -> None:
    """So many sessions on one day, each booked from end to end."""
    for number in range(sessions):
        therapist = _staff(f"t{sessions}-{number}", is_therapist=True)
        session = clinic.session(DAY, therapist=therapist, end=600)
        for start in (540, 560, 580):
            episode = clinic.episode(surgery_on=date(2026, 3, 24))
            appointments.book([due(episode)], by=by(clinic.admin), session=session, start=start)


def counted(ask) -> int:
    ask()
    with CaptureQueriesContext(connection) as asked:
        ask()
    return len(asked)


def test_a_day_costs_the_same_queries_however_full(clinic, admin, capsys):
    asks = (lambda: diary_of(DAY, DAY), lambda: admin.get(ADDRESS), lambda: admin.get(f"{ADDRESS}&as=week"))
    full(clinic, 2)
    few = [counted(ask) for ask in asks]
    full(clinic, 18)
    many = [counted(ask) for ask in asks]
    found = diary_of(DAY, DAY).pages[0].sittings
    assert len(found) == 20 and sum(sitting.booked for sitting in found) == 60
    assert many == few and many[0] <= 7
    with capsys.disabled():
        print(f"\n20 full sessions: {many[0]} queries to read the day, {many[1]} for the whole page, as for 2")


def moving(client, booked, on: date = DAY, **typed):
    address = f"/diary/?on={on}&moving={booked.code}"
    key = client.get(address).context["form"]["key"].value()
    return client.post(address, {"key": key, "version": booked.version, "told": "told"} | typed)


def test_while_an_appointment_is_moved_each_start_that_fits_is_a_button(booked, admin):
    page = admin.get(f"{ADDRESS}&moving={booked.code}").content.decode()
    assert page.count('form="moving"') == 4 and "Moving MOSS, Ada" in page


FULL = "No free start on"


def test_a_day_on_which_no_start_is_long_enough_says_so_and_where_to_look(clinic, booked, admin):
    clinic.session(date(2026, 4, 8), end=560)
    assert FULL not in read(admin.get(f"{ADDRESS}&moving={booked.code}"))
    assert FULL not in read(admin.get(f"/diary/?on=2026-04-08&moving={booked.code}"))
    clinic.session(date(2026, 4, 9), end=560)
    Slot.objects.filter(session__on=date(2026, 4, 9)).update(held_why="urgent patients")
    page = " ".join(read(admin.get(f"/diary/?on=2026-04-09&moving={booked.code}")).split())
    assert f"{FULL} Thu 9 Apr 2026 fits" in page and "has 20 minutes left in one piece" in page
    assert "Press a free start" not in page
    assert re.search(rf'Look at <a href="\?on=2026-04-10&amp;moving={booked.code}">Fri 10 Apr 2026</a>', page)


def test_a_day_without_a_session_has_no_start_either(booked, admin):
    assert FULL in read(admin.get(f"/diary/?on=2026-04-08&moving={booked.code}"))


def test_an_appointment_is_moved_to_the_start_that_was_pressed(booked, admin):
    answer = moving(admin, booked, to=f"{booked.session.code}/600")
    booked.refresh_from_db()
    assert answer.status_code == 302 and booked.start_minute == 600 and f"#v-{booked.code}" in answer.url


def test_a_late_place_is_named_before_it_is_taken(clinic, booked, admin):
    clinic.session(date(2026, 4, 10))
    page = read(admin.get(f"/diary/?on=2026-04-10&moving={booked.code}"))
    assert "09:00, 1 day after its last day" in page and "Fri 10 Apr 2026 is 1 day after its last day." in page


def test_an_early_place_asks_who_approved_it_and_keeps_what_was_typed(clinic, booked, admin):
    session = clinic.session(date(2026, 4, 2))
    answer = moving(admin, booked, session.on, to=f"{session.code}/540", approved_by="Dr Vale")
    page = answer.content.decode()
    assert answer.status_code == 422 and "3 days before its first day" in page and 'value="Dr Vale"' in page
    answer = moving(admin, booked, session.on, to=f"{session.code}/540", approved_by="Dr Vale", approved_why="travels")
    assert answer.status_code == 302


def test_a_move_sent_twice_moves_once(booked, admin):
    address = f"{ADDRESS}&moving={booked.code}"
    key = admin.get(address).context["form"]["key"].value()
    sent = {"key": key, "version": booked.version, "told": "told", "to": f"{booked.session.code}/600"}
    assert [admin.post(address, sent).status_code for _ in range(2)] == [302, 302]
    booked.refresh_from_db()
    assert booked.sequence == 1


def test_what_cannot_be_moved_is_said(clinic, booked, admin):
    appointments.end(booked, by=by(clinic.admin), outcome=Outcome.CANCELLED_BY_PATIENT)
    assert "cannot be moved" in admin.get(f"{ADDRESS}&moving={booked.code}").content.decode()


def test_a_free_slot_lists_whom_it_suits_and_books(clinic, booked, admin):
    late = clinic.episode(clinic.patient(family="Reed"), surgery_on=date(2026, 3, 22))
    clinic.episode(clinic.patient(family="Ahead"), surgery_on=date(2026, 4, 1))
    address = f"/sessions/{booked.session.code}/slots/560/"
    answer = admin.get(address)
    page = answer.content.decode()
    assert "REED, " in page and "AHEAD" not in page and "MOSS" not in page
    key = answer.context["form"]["key"].value()
    sent = {"key": key, "told": "told", "book": f"{late.code}/stitches-out"}
    assert [admin.post(address, sent).status_code for _ in range(2)] == [302, 302]
    assert Appointment.objects.get(patient=late.patient).start_minute == 560


def test_a_namesake_is_booked_only_once_the_birth_date_is_confirmed(clinic, booked, admin):
    clinic.episode(clinic.patient(family="Twin", given="One"), surgery_on=date(2026, 3, 24))
    other = clinic.episode(clinic.patient(family="Twin", given="One"), surgery_on=date(2026, 3, 24))
    address, name = f"/sessions/{booked.session.code}/slots/560/", f"{other.code}/stitches-out"
    assert admin.post(address, {"told": "told", "book": name}).status_code == 422
    assert admin.post(address, {"told": "told", "book": name, "confirmed": name}).status_code == 302


def test_slots_are_kept_back_and_released(booked, admin):
    address = f"/sessions/{booked.session.code}/slots/560/"
    assert admin.post(address, {"told": "told", "hold": "1", "why": "", "minutes": "40"}).status_code == 422
    assert admin.post(address, {"told": "told", "hold": "1", "why": "urgent", "minutes": "40"}).status_code == 302
    assert list(Slot.objects.exclude(held_why="").values_list("minute", flat=True)) == [560, 580]
    assert "Held back: urgent" in admin.get(address).content.decode()
    assert admin.post(address, {"told": "told", "release": "1"}).status_code == 302
    assert not Slot.objects.exclude(held_why="").exists()


def test_what_is_booked_cannot_be_kept_back(booked, admin):
    address = f"/sessions/{booked.session.code}/slots/540/"
    answer = admin.post(address, {"told": "told", "hold": "1", "why": "urgent"})
    assert answer.status_code == 422 and "Move that appointment" in answer.content.decode()


def test_who_has_come_is_recorded_from_the_day(clinic, admin):
    clinic.session(TODAY, end=640)
    episode = clinic.episode(surgery_on=date(2026, 3, 18))
    appointment = clinic.book([due(episode)], TODAY)
    assert f'formaction="/appointments/{appointment.code}/arrived/"' in admin.get("/diary/").content.decode()
    admin.post(f"/appointments/{appointment.code}/arrived/", {"back": "/diary/"})
    page = admin.get("/diary/").content.decode()
    assert "arrived 10:00" in page


def test_of_who_has_come_only_the_outcome_is_left(clinic, admin):
    clinic.session(TODAY, end=640)
    appointment = clinic.book([due(clinic.episode(surgery_on=date(2026, 3, 18)))], TODAY, told="untold")
    ways = {f"moving={appointment.code}", f"/{appointment.code}/told/", f"/{appointment.code}/outcome/", "not told yet"}
    page = admin.get("/diary/").content.decode()
    assert {way for way in ways if way in page} == ways
    appointments.arrive(appointment, by=by(clinic.admin))
    page = admin.get("/diary/").content.decode()
    assert {way for way in ways if way in page} == {f"/{appointment.code}/outcome/"}
    assert "the patient has come" in admin.get(f"/diary/?moving={appointment.code}").content.decode()


@pytest.mark.parametrize("address", ["/diary/", "/rehousing/"])
def test_nonsense_in_an_address_never_breaks_the_diary(booked, admin, address):
    answers = ask_nonsense(admin, address, "on", "site", "as", "moving", "session")
    assert {answer.status_code for answer in answers} <= {200}


@pytest.mark.parametrize("minute", [0, 545, 1440, 10**30])
def test_what_is_no_slot_is_not_found(booked, admin, minute):
    assert admin.get(f"/sessions/{booked.session.code}/slots/{minute}/").status_code == 404


@pytest.mark.parametrize("kind", ["csv", "xlsx"])
def test_a_day_is_had_as_a_file(booked, admin, kind):
    answer = admin.post(ADDRESS, {"kind": kind})
    assert answer.status_code == 200 and f"diary-{DAY}.{kind}" in answer["Content-Disposition"]
    if kind == "csv":
        assert "Moss" in answer.content.decode() and "free" in answer.content.decode()


def test_a_therapist_sees_no_way_to_call_a_session_off(booked, therapist, admin):
    assert "Call off" not in therapist.get(ADDRESS).content.decode()
    assert "Call off" in admin.get(ADDRESS).content.decode()
