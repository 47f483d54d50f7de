"""The sessions of a therapist's day: who sits when, outcomes with one press, another day, another's day, colleagues."""

from datetime import date, timedelta
from uuid import uuid4

import pytest

from caseload.actions import appointments, visits
from caseload.actions.visits import Look
from caseload.models import Absence, Staff
from caseload.timetable.terms import AfterVisit, FindingKind, Outcome, WoundState
from tests.scenario import TODAY, by
from tests.web.reading import read

ADDRESS = "/today/"
BEFORE = date(2026, 3, 20)


def seated(clinic, family="Seated", on=TODAY, **own):
    """A visit for stitches out, in a session of the therapist."""
    patient = clinic.patient(family=family, **own)
    episode = clinic.episode(patient, surgery_on=on - timedelta(days=14), today=BEFORE)
    return clinic.book([episode.follow_ups.get(key="stitches-out")], on, today=BEFORE)


def press(client, appointment, pressed, **said):
    own = {"did": pressed, "version": appointment.version, "key": str(uuid4()), "back": ADDRESS}
    return client.post(f"/appointments/{appointment.code}/of-the-day/", own | said, follow=True)


def test_a_session_shows_its_visits_in_order_of_time_and_what_is_free(clinic, therapist):
    seated(clinic, "Zeta")
    seated(clinic, "Alpha")
    page = therapist.get(ADDRESS).content.decode()
    assert "2 booked · 2 without an outcome" in page and "8 free from 09:40" not in page
    assert page.index("ZETA, ") < page.index("ALPHA, ") and "<b>09:20</b>" in page
    assert "7 free from 10:00" in page  # the clock stands at 10:00 of the site's summer time


def test_a_slot_held_back_is_not_free(clinic, therapist):
    session = clinic.session(TODAY)
    session.slots.filter(minute__gte=640).update(held_why="walk-ins")
    assert "2 free from 10:00" in therapist.get(ADDRESS).content.decode()


def test_the_sessions_stand_in_order_of_time(clinic, therapist):
    clinic.session(TODAY, start=780, end=900, site=clinic.quay)
    clinic.session(TODAY)
    page = therapist.get(ADDRESS).content.decode()
    assert page.index("09:00 to 12:20 Fernhollow") < page.index("13:00 to 15:00 Quay Street")


def test_arrived_and_attended_take_one_press_each(clinic, therapist):
    appointment = seated(clinic)
    page = press(therapist, appointment, "arrived").content.decode()
    assert "arrived 10:00" in page and 'value="arrived"' not in page
    appointment.refresh_from_db()
    page = press(therapist, appointment, "attended").content.decode()
    assert "<b>attended</b>" in page and "1 booked<" in page.replace(" </", "<")
    appointment.refresh_from_db()
    assert appointment.outcome == "attended" and appointment.arrived_at


def test_whoever_did_not_attend_stays_in_sight_and_the_slot_is_given_up(clinic, therapist):
    appointment = seated(clinic)
    page = press(therapist, appointment, "did-not-attend").content.decode()
    assert "<b>did not attend</b>" in page and "SEATED" in page
    assert not appointment.seats.exists()


def test_what_was_pressed_can_be_taken_back_from_the_page(clinic, therapist):
    page = press(therapist, seated(clinic), "attended").content.decode()
    assert "Just done, and can be taken back" in page


def test_a_second_press_of_the_same_button_does_nothing(clinic, therapist):
    appointment, key = seated(clinic), str(uuid4())
    for _ in range(2):
        page = press(therapist, appointment, "attended", key=key).content.decode()
    assert "is recorded already" not in page


@pytest.mark.parametrize("said", [{"version": 99}, {"did": "vanished"}, {"did": ""}])
def test_a_press_on_an_old_page_or_of_no_button_changes_nothing_and_says_so(clinic, therapist, said):
    appointment = seated(clinic)
    page = press(therapist, appointment, "attended", **said).content.decode()
    assert "Recorded." not in page and "notice bad" in page
    appointment.refresh_from_db()
    assert appointment.outcome == ""


def test_a_visit_of_a_colleagues_patient_in_my_session_stands_in_it(clinic, therapist):
    episode = clinic.episode(
        clinic.patient(family="Lent"), therapist=None, surgery_on=TODAY - timedelta(days=14), today=BEFORE
    )
    clinic.book([episode.follow_ups.get(key="stitches-out")], TODAY, today=BEFORE)
    page = therapist.get(ADDRESS).content.decode()
    assert "LENT" in page and "until the wound is recorded closed" in page


def test_two_fingers_of_one_visit_stand_under_each_other_with_one_set_of_buttons(clinic, therapist):
    patient = clinic.patient()
    rows = [
        clinic.episode(patient, digit=digit, surgery_on=date(2026, 3, 18), today=BEFORE).follow_ups.get(
            key="stitches-out"
        )
        for digit in ("ring", "middle")
    ]
    clinic.book(rows, TODAY, today=BEFORE)
    page = therapist.get(ADDRESS).content.decode()
    assert page.count("same visit") == 1 and page.count('value="did-not-attend"') == 1 and "1 booked" in page


def test_of_two_with_one_name_nothing_is_recorded_with_one_press(clinic, therapist):
    for born_on in (date(1950, 1, 1), date(1970, 1, 1)):
        seated(clinic, "Same", given="Ann", born_on=born_on)
    page = therapist.get(ADDRESS).content.decode()
    assert page.count("Record outcome") == 2 and 'value="attended"' not in page


def test_who_does_not_know_of_the_visit_is_said(clinic, therapist):
    appointment = seated(clinic, interpreter=True, language="Polish")
    appointments.tell(appointment, by=by(clinic.admin, BEFORE), told="untold")
    page = therapist.get(ADDRESS).content.decode()
    assert "not told yet" in page and "interpreter not told" in page


def test_my_patient_in_a_colleagues_session_stands_below(clinic, therapist):
    other = Staff.objects.create(username="other", name="Other", is_therapist=True)
    clinic.session(TODAY, therapist=other)
    seated(clinic, "Elsewhere")
    page = therapist.get(ADDRESS).content.decode()
    assert page.index("Booked elsewhere") < page.index("ELSEWHERE")


def test_another_day_shows_its_sessions_without_buttons_and_without_what_is_late(clinic, therapist):
    clinic.episode(clinic.patient(family="Late"), surgery_on=date(2026, 3, 14))
    seated(clinic, "Next", on=date(2026, 4, 7))
    page = therapist.get(ADDRESS, {"on": "2026-04-07"}).content.decode()
    assert "NEXT" in page and "days late" not in page and 'value="attended"' not in page and "10 free" not in page
    assert "9 free from 09:20" in page and "day 14" in page


def test_an_unreadable_day_is_said_and_today_is_shown(clinic, therapist):
    seated(clinic)
    page = therapist.get(ADDRESS, {"on": "soon"}).content.decode()
    assert "SEATED" in page and 'class="notice"' in page


def test_a_lead_looks_at_the_day_of_another_and_a_therapist_does_not(clinic, lead, therapist):
    seated(clinic)
    assert "SEATED" in lead.get(ADDRESS, {"of": clinic.therapist.code}).content.decode()
    other = Staff.objects.create(username="other", name="Other Marsh", is_therapist=True)
    assert "SEATED" in therapist.get(ADDRESS, {"of": other.code}).content.decode()


def test_what_is_a_colleagues_stands_with_the_cover_while_they_are_away(clinic, sign_in):
    cover = Staff.objects.create(username="joan", name="Joan Petherick", is_therapist=True)
    clinic.episode(clinic.patient(family="Late"), surgery_on=date(2026, 3, 14))
    client = sign_in(cover)
    assert "LATE, " not in client.get(ADDRESS).content.decode()
    Absence.objects.create(therapist=clinic.therapist, starts_on=TODAY, ends_on=TODAY, reason="ill", cover=cover)
    page = read(client.get(ADDRESS))
    assert "LATE, " in page and "Thea Marsh is away; Joan Petherick covers" in page
    assert "Thea Marsh is away until Wed 1 Apr 2026" in page


def test_ten_queries_do_however_full_the_sessions_are(clinic, therapist, django_assert_max_num_queries):
    seated(clinic)
    therapist.get(ADDRESS)
    with django_assert_max_num_queries(10) as few:
        therapist.get(ADDRESS)
    for number in range(8):
        seated(clinic, f"Other{number}")
    with django_assert_max_num_queries(10) as many:
        therapist.get(ADDRESS)
    assert len(few) == len(many)


def test_a_visit_outside_its_window_says_so(clinic, therapist):
    episode = clinic.episode(surgery_on=date(2026, 3, 14), today=BEFORE)
    clinic.book([episode.follow_ups.get(key="stitches-out")], TODAY, today=BEFORE)
    assert "<b>outside its window</b>, Thu 26 Mar 2026 to Mon 30 Mar 2026" in read(therapist.get(ADDRESS))


def test_a_visit_that_was_inside_its_window_stays_so_when_what_it_was_for_is_booked_again(clinic, therapist):
    missed, who = seated(clinic, on=date(2026, 3, 30)), by(clinic.admin)
    appointments.end(missed, by=who, outcome=Outcome.DID_NOT_ATTEND, version=None)
    row = missed.patient.episodes.get().follow_ups.get(key="stitches-out")
    clinic.book([row], row.latest_on + timedelta(days=1))
    page = read(therapist.get(ADDRESS, {"on": "2026-03-30"}))
    assert "did not attend" in page and "outside its window" not in page


def test_a_day_to_come_asks_for_no_outcome_yet(clinic, therapist):
    seated(clinic, on=date(2026, 4, 2))
    page = read(therapist.get(ADDRESS, {"on": "2026-04-02"}))
    assert "1 booked" in page and "without an outcome" not in page


def test_a_day_without_a_session_says_so(clinic, therapist):
    page = " ".join(read(therapist.get(ADDRESS)).split())
    assert "<p> no session · 0 without an outcome" in page


def test_the_heading_counts_what_has_no_outcome_yet(clinic, therapist):
    seated(clinic)
    episode = clinic.episode(surgery_on=date(2026, 3, 17), today=BEFORE)
    clinic.book([episode.follow_ups.get(key="stitches-out")], date(2026, 3, 31), today=BEFORE)
    page = " ".join(therapist.get(ADDRESS).content.decode().split())
    assert "1 booked in 1 session · 2 without an outcome · 0 late" in page


def test_of_a_day_that_has_passed_nobody_arrives_any_more(clinic, therapist):
    episode = clinic.episode(surgery_on=date(2026, 3, 17), today=BEFORE)
    appointment = clinic.book([episode.follow_ups.get(key="stitches-out")], date(2026, 3, 31), today=BEFORE)
    page = therapist.get(ADDRESS).content.decode()
    assert 'value="arrived"' not in page and 'value="attended"' in page
    press(therapist, appointment, "did-not-attend")
    appointment.refresh_from_db()
    assert appointment.outcome == "did-not-attend"


@pytest.mark.parametrize(
    "on", ["", "0001-01-01", "9999-12-31", "+99999999", "-1", "31/2/26", "3 apr", "\x00", "a" * 500, "<b>"]
)
def test_no_day_in_the_address_breaks_the_page(clinic, lead, on):
    seated(clinic)
    for of in (clinic.therapist.code, "nobody", "\x00"):
        assert lead.get(ADDRESS, {"on": on, "of": of}).status_code == 200


@pytest.mark.parametrize("version", ["", "-1", "x", "9" * 40, "²"])
def test_a_version_that_is_none_breaks_nothing(clinic, therapist, version):
    assert press(therapist, seated(clinic), "attended", version=version).status_code == 200


def test_a_visit_that_is_not_there_is_not_found_and_looking_does_not_press(clinic, therapist):
    assert therapist.post("/appointments/nowhere/of-the-day/", {"did": "attended"}).status_code == 404
    assert therapist.get(f"/appointments/{seated(clinic).code}/of-the-day/").status_code == 405


def test_recording_the_visit_comes_first_and_then_what_was_recorded(clinic, therapist):
    appointment = seated(clinic)
    page = therapist.get(ADDRESS).content.decode()
    address = f'href="/appointments/{appointment.code}/visit/"'
    assert page.index(address) < page.index('value="arrived"')
    episode = appointment.purposes.get().follow_up.episode
    look = Look(episode, AfterVisit.CONTINUE, findings=[{"kind": FindingKind.WOUND, "wound": WoundState.CLOSED}])
    visit = visits.record(appointment.patient, by=by(clinic.therapist), on=TODAY, looks=[look], appointment=appointment)
    page = therapist.get(ADDRESS).content.decode()
    assert address not in page and f'<a href="/visits/{visit.code}/">recorded</a>' in page


def test_who_did_not_attend_has_no_visit_to_record(clinic, therapist):
    appointment = seated(clinic)
    appointments.end(appointment, by=by(clinic.admin), outcome=Outcome.DID_NOT_ATTEND)
    assert f"/appointments/{appointment.code}/visit/" not in therapist.get(ADDRESS).content.decode()


def test_a_patient_without_an_appointment_has_a_visit_too(clinic, therapist):
    episode = clinic.episode(clinic.patient(family="Late"), surgery_on=date(2026, 3, 14))
    assert f'href="/episodes/{episode.code}/visit/"' in therapist.get(ADDRESS).content.decode()
    assert "/visit/" not in therapist.get(ADDRESS, {"on": "2026-04-02"}).content.decode()


def test_a_mark_of_a_past_day_says_that_it_is_as_of_today(clinic, therapist):
    on = BEFORE + timedelta(days=5)
    seated(clinic, on=on)
    assert "as of today: late" in read(therapist.get(f"{ADDRESS}?on={on}"))
    assert "as of today" not in read(therapist.get(ADDRESS))


def test_who_has_come_need_not_be_told_any_more(clinic, therapist):
    appointment = seated(clinic)
    appointments.tell(appointment, by=by(clinic.admin), told="untold")
    assert "not told" in read(therapist.get(ADDRESS)).lower()
    appointments.arrive(appointment, by=by(clinic.admin))
    assert "not told" not in read(therapist.get(ADDRESS)).lower()
