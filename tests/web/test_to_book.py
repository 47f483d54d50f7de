"""The booking list: what is on it and in which order, offers beside, calls, claims, races, and who is to be told."""

import re
from datetime import date, timedelta

import pytest

from caseload.actions import appointments, contacts
from caseload.actions.working import open_row
from caseload.models import Appointment, Contact, FollowUp, Session, WorkedOn
from caseload.reads import to_book
from caseload.reads.to_book import Asked
from caseload.reads.to_book_details import details
from caseload.timetable.terms import Outcome
from tests.scenario import TODAY, by
from tests.web.posting import held
from tests.web.reading import said

ADDRESS = "/to-book/"
STITCHES = f"{ADDRESS}?kind=stitches-out"
EASTER_WEEK = (date(2026, 4, 1), date(2026, 4, 2), date(2026, 4, 7), date(2026, 4, 8), date(2026, 4, 9))
EVERYTHING = Asked()


@pytest.fixture
def sessions(clinic):
    """Sessions on the open days around Easter."""
    for on in EASTER_WEEK:
        clinic.session(on)
    return clinic


def stitches(clinic, surgery_on=date(2026, 3, 20), **of_patient) -> FollowUp:
    episode = clinic.episode(clinic.patient(**of_patient), surgery_on=surgery_on, for_therapy=False)
    return episode.follow_ups.get(key="stitches-out")


def name(row: FollowUp) -> str:
    return f"{row.episode.code}/{row.key}"


def listed(kind="stitches-out") -> list[str]:
    return [row.family for row in to_book.rows(Asked(kind=kind), TODAY)]


def send(client, page, address="/to-book/visit/?kind=stitches-out", **typed):
    """Send the form beside the list as it is, or with something else typed in."""
    form = page.context["panel"].form
    chosen = {"slot": page.context["panel"].form.fields["slot"].widget.choices[0][0]}
    return client.post(address, held(form) | chosen | typed)


# ---- the list ----


def test_fewest_usable_days_come_first_then_the_last_day_then_the_name(sessions):
    for family, start in (("Cole", 20), ("Bowen", 22), ("Aarden", 22), ("Dale", 14), ("Ewart", 23)):
        stitches(sessions, date(2026, 3, start), family=family)
    assert listed() == ["Dale", "Aarden", "Bowen", "Cole", "Ewart"]


def test_a_window_that_opens_in_29_days_is_not_listed_yet(clinic):
    stitches(clinic, TODAY + timedelta(days=16 - 35))
    assert len(listed("outcome-review")) == 1
    FollowUp.objects.filter(kind="outcome-review").update(
        earliest_on=TODAY + timedelta(days=29), target_on=TODAY + timedelta(days=36), proposed_on=None
    )
    assert listed("outcome-review") == []


def test_a_row_says_what_must_be_known_to_ring(sessions, admin):
    stitches(sessions, family="Cole", phone="07700 900118")
    page = said(admin.get(STITCHES))
    for words in (
        "COLE", "born Sat 2 Jan 1960", "07700 900118", "right ring finger", "day 12 · Fernhollow",
        "2 usable days left", "Wed 1 Apr 2026 to", "Sun 5 Apr 2026",
    ):  # fmt: skip
        assert words in page


def test_late_and_without_a_session_are_said(sessions, admin):
    stitches(sessions, date(2026, 3, 15))
    stitches(sessions, date(2026, 3, 31))
    page = said(admin.get(STITCHES))
    assert "1 day late" in page and "no session in the window" in page


def test_one_that_did_not_come_is_back_at_once_with_the_reason(sessions, admin):
    row = stitches(sessions)
    for outcome in (Outcome.CANCELLED_BY_PATIENT, Outcome.CANCELLED_BY_PATIENT):
        booked = sessions.book([row], date(2026, 4, 2))
        assert listed() == []
        appointments.end(booked, by=by(sessions.admin), outcome=outcome, why="has a cold")
    assert "Cancelled by the patient, second time: the appointment of Thu 2 Apr 2026 (has a cold)." in said(
        admin.get(STITCHES)
    )


def test_a_faulty_booking_says_what_is_amiss_and_is_moved(sessions, admin):
    row = stitches(sessions)
    booked = sessions.book([row], date(2026, 4, 8))
    page = admin.get(STITCHES)
    assert "Booked Wed 8 Apr 2026, 09:00: move it." in said(page) and "outside the window" in said(page)
    assert send(admin, page).status_code == 302
    booked.refresh_from_db()
    assert booked.on == date(2026, 4, 2) and booked.live and listed() == []


# ---- beside the list ----


def test_booking_goes_on_to_the_next_row(sessions, admin):
    first, then = stitches(sessions), stitches(sessions, date(2026, 3, 23))
    page = admin.get(STITCHES)
    assert page.context["panel"].row.id == first.pk
    answer = send(admin, page)
    assert answer.status_code == 302 and f"row={then.episode.code}%2Fstitches-out" in answer.headers["Location"]
    assert Appointment.objects.get().purposes.get().follow_up == first


def test_a_form_sent_twice_books_once_and_goes_on_twice(sessions, admin):
    stitches(sessions), stitches(sessions, date(2026, 3, 23))
    page = admin.get(STITCHES)
    once, again = send(admin, page), send(admin, page)
    assert once.headers["Location"] == again.headers["Location"] and Appointment.objects.count() == 1


def test_the_last_one_leaves_an_empty_list_that_says_so(sessions, admin):
    stitches(sessions)
    answer = send(admin, admin.get(STITCHES))
    assert "Nothing to book matches these filters" in said(admin.get(answer.headers["Location"]))
    FollowUp.objects.update(earliest_on=date(2026, 3, 1), target_on=date(2026, 3, 1), minutes=0, proposed_on=None)
    assert "Everything is booked" in said(admin.get(ADDRESS))


def test_two_digits_share_a_visit_and_are_ticked_together(sessions, admin):
    patient = sessions.patient()
    for digit in ("ring", "little"):
        sessions.episode(patient, digit=digit, for_therapy=False)
    page = admin.get(STITCHES)
    assert len(held(page.context["panel"].form)["follow_ups"]) == 2 and "09:00 to 09:40" in said(page)
    send(admin, page)
    assert Appointment.objects.get().minutes == 40


def test_what_has_no_place_together_in_time_is_ticked_alone_and_the_page_says_so(clinic, admin):
    """Twenty minutes that are free in time are not passed over for forty that are too late."""
    patient, short = clinic.patient(), clinic.session(date(2026, 4, 2), end=560)
    clinic.session(date(2026, 4, 15))
    for digit in ("ring", "little"):
        clinic.episode(patient, digit=digit, for_therapy=False)
    page = admin.get(STITCHES)
    assert len(held(page.context["panel"].form)["follow_ups"]) == 1 and "only the first is ticked" in said(page)
    send(admin, page)
    assert Appointment.objects.get().session == short and len(listed()) == 1


def test_other_offers_keeps_what_was_ticked(sessions, admin):
    patient = sessions.patient()
    for digit in ("ring", "little"):
        sessions.episode(patient, digit=digit, for_therapy=False)
    page = admin.get(STITCHES)
    one = held(page.context["panel"].form)["follow_ups"][:1]
    again = send(admin, page, follow_ups=one, again="1", told="untold")
    assert again.status_code == 200 and "09:00 to 09:20" in said(again) and Appointment.objects.count() == 0
    assert held(again.context["panel"].form)["told"] == "untold"


def test_whoever_loses_the_race_hears_who_has_it_and_gets_three_more(sessions, admin):
    stitches(sessions, family="Slower"), stitches(sessions, date(2026, 3, 21), family="Faster")
    page = admin.get(STITCHES)
    place = page.context["panel"].places.offers[0]
    quick = FollowUp.objects.get(episode__patient__family="Slower", key="stitches-out")
    loser = admin.get(f"{STITCHES}&row={name(quick)}")
    other = FollowUp.objects.get(episode__patient__family="Faster", key="stitches-out")
    session = Session.objects.get(pk=place.session)
    appointments.book([other], by=by(sessions.lead), session=session, start=place.start)
    answer = send(admin, loser, told="message-left", slot=f"{place.code}/{place.start}")
    assert answer.status_code == 409 and "FASTER" in said(answer) and "has it. Choose another." in said(answer)
    form = answer.context["panel"].form
    assert len(form.fields["slot"].widget.choices) == 3 and held(form)["told"] == "message-left"
    assert held(form)["slot"] == form.fields["slot"].widget.choices[0][0]


def test_one_booked_meanwhile_elsewhere_is_said_and_passed(sessions, admin):
    row = stitches(sessions)
    stitches(sessions, date(2026, 3, 23))
    page = admin.get(STITCHES)
    sessions.book([row], date(2026, 4, 2), by=by(sessions.lead))
    answer = admin.get(send(admin, page).headers["Location"])
    assert "booked meanwhile" in said(answer) and Appointment.objects.count() == 1


def test_namesakes_are_not_booked_before_the_birth_date_is_confirmed(sessions, admin):
    stitches(sessions, family="Same", given="Name"), stitches(sessions, family="Same", given="Name")
    page = admin.get(STITCHES)
    assert send(admin, page).status_code == 422 and Appointment.objects.count() == 0
    assert send(admin, page, birth_date_confirmed="on").status_code == 302


def test_a_form_that_is_no_form_of_ours_is_refused_not_a_fault(sessions, admin):
    row = stitches(sessions)
    page = admin.get(STITCHES)
    for slot in ("", "x", "x/y", "nothing/540", f"{'1' * 40}/1"):
        assert send(admin, page, slot=slot).status_code == 422
    assert send(admin, page, row="no/such").status_code == 404
    assert admin.post("/to-book/call/", {"row": name(row), "reached": "shouted"}).status_code == 404
    assert admin.get("/to-book/?row=%00&page=-1&per=9&site=x").status_code == 200


# ---- calls and claims ----


def test_no_answer_is_logged_shown_and_goes_on(sessions, admin):
    first, then = stitches(sessions), stitches(sessions, date(2026, 3, 23))
    answer = admin.post("/to-book/call/?kind=stitches-out", {"row": name(first), "reached": "no-answer"})
    assert then.episode.code in answer.headers["Location"]
    assert Contact.objects.get().episode == first.episode
    assert re.search(r"no answer 1?\d:00", said(admin.get(STITCHES)))


def test_yesterdays_calls_are_not_shown(sessions, admin):
    row = stitches(sessions)
    contacts.log(row.patient, by=by(sessions.admin, TODAY - timedelta(days=1)), how="phone", reached="no-answer")
    assert "no answer 1" not in said(admin.get(STITCHES))


def test_an_open_row_is_shown_to_others_and_passed_by_them(sessions, admin, lead):
    stitches(sessions), stitches(sessions, date(2026, 3, 23))
    mine, theirs = admin.get(STITCHES), lead.get(STITCHES)
    assert mine.context["panel"].row != theirs.context["panel"].row
    assert f"{sessions.admin.name} has this open" in said(theirs) and "has this open" not in said(mine)


def test_a_claim_ends_after_three_minutes_and_with_the_next_row(sessions):
    rows = [stitches(sessions), stitches(sessions, date(2026, 3, 23))]
    ada, lena = by(sessions.admin), by(sessions.lead)
    assert open_row(rows[0].patient_id, by=ada) and not open_row(rows[0].patient_id, by=lena)
    assert open_row(rows[1].patient_id, by=ada) and open_row(rows[0].patient_id, by=lena)
    WorkedOn.objects.update(at=ada.at - timedelta(minutes=3, seconds=1))
    assert open_row(rows[1].patient_id, by=lena)


def test_a_claim_does_not_keep_anybody_from_booking(sessions, admin, lead):
    row = stitches(sessions)
    admin.get(STITCHES)
    page = lead.get(f"{STITCHES}&row={name(row)}")
    assert send(lead, page).status_code == 302 and Appointment.objects.count() == 1


# ---- the page ----


def test_admins_begin_here_and_anybody_signed_in_may_look(clinic, client, admin, therapist):
    assert admin.get("/").headers["Location"] == ADDRESS
    assert therapist.get(ADDRESS).status_code == 200
    assert "sign-in" in client.get(ADDRESS).headers["Location"]
    assert "sign-in" in client.post("/to-book/visit/").headers["Location"]


def test_the_list_is_filtered_by_site_and_exported_as_shown(sessions, admin):
    stitches(sessions, family="Here")
    sessions.episode(sessions.patient(family="There"), site=sessions.quay, for_therapy=False)
    address = f"{STITCHES}&site={sessions.site.code}"
    assert "THERE" not in said(admin.get(address))
    text = admin.post(address, {"kind": "csv"}).content.decode("utf-8-sig")
    assert text.count("\r\n") == 2 and "Here" in text and "2 usable days left" in text
    assert admin.post(STITCHES, {"kind": "xlsx"}).content.startswith(b"PK")


def test_the_queries_do_not_grow_with_the_rows(sessions, admin, django_assert_max_num_queries):
    stitches(sessions)
    sessions.book([stitches(sessions)], date(2026, 4, 2), told="untold")
    admin.get(ADDRESS)
    with django_assert_max_num_queries(30) as few:
        admin.get(ADDRESS)
    for start in range(15, 27):
        stitches(sessions, date(2026, 3, start))
    admin.get(ADDRESS)  # another row is the first one now, and is taken
    with django_assert_max_num_queries(30) as many:
        admin.get(ADDRESS)
    assert len(few) == len(many)


def test_the_list_itself_takes_eight_queries_at_most(sessions, django_assert_max_num_queries):
    stitches(sessions)
    with django_assert_max_num_queries(8):
        details(to_book.rows(EVERYTHING, TODAY), by(sessions.admin).at)
        to_book.open_rows(by(sessions.admin).at)
