"""The page of the notices: whom to ring in one press, what waits to be printed, whose referrer may be written to."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from caseload.actions import notices
from caseload.models import Contact, Look, Notice, Pulse
from caseload.web.paging import Paging
from caseload.web.views import notices as views
from tests.record.before import missed_twice
from tests.scenario import TODAY, by
from tests.web.posting import errors, send
from tests.web.reading import said

ADDRESS = "/notices/"
MOST_QUERIES = 20


def reminded(clinic, **about) -> Notice:
    """A reminder by telephone that is due: the appointment is in two open days, on Tuesday after Easter."""
    episode = clinic.episode(clinic.patient(**about), today=date(2026, 3, 23))
    clinic.book([episode.follow_ups.get(key="stitches-out")], date(2026, 4, 7), today=date(2026, 3, 23))
    notice = episode.patient.notices.latest("due_at")
    Notice.objects.filter(pk=notice.pk).update(due_at=by().at - timedelta(hours=1))
    return notice


def test_whom_to_ring_stands_with_number_appointment_and_language(clinic, admin):
    reminded(clinic, phone="07700 900118", interpreter=True, language="Welsh")
    reminded(clinic, phone="", born_on=date(2015, 4, 2))
    page = said(admin.get(ADDRESS))
    for words in (
        "07700 900118",
        "no telephone number",
        "Tue 7 Apr 2026, 09:00",
        "interpreter: Welsh",
        "2 to ring",
        "under 16",
    ):
        assert words in page


@pytest.mark.parametrize(("reached", "state"), [("spoke", "sent"), ("message-left", "sent"), ("no-answer", "waiting"),
                                                ("wrong-number", "waiting")])  # fmt: skip
def test_one_press_says_what_came_of_ringing(clinic, admin, reached, state):
    notice = reminded(clinic)
    answer = admin.post(f"{ADDRESS}{notice.code}/rung/", {"reached": reached})
    notice.refresh_from_db()
    assert answer.url == ADDRESS and notice.state == state and Contact.objects.get().reached == reached
    assert ("Nobody is to be reminded" in said(admin.get(ADDRESS))) == (state == "sent")


def test_who_has_a_namesake_is_not_recorded_before_the_birth_date_is_confirmed(clinic, admin):
    notice = reminded(clinic, given="Nell", family="Harbour")
    clinic.episode(clinic.patient(given="Nell", family="Harbour"))
    page, press, form = said(admin.get(ADDRESS)), f"{ADDRESS}{notice.code}/rung/", f"{ADDRESS}{notice.code}/call/"
    assert "same name: check the birth date" in page and press not in page and form in page
    assert admin.post(press, {"reached": "spoke"}).url == form
    assert admin.post(form, {"reached": "spoke"}).status_code == 422 and not Contact.objects.exists()
    assert admin.post(form, {"reached": "spoke", "birth_date_confirmed": "on"}).url == ADDRESS


def test_empty_lists_say_why_and_what_comes_there(clinic, admin):
    page = said(admin.get(ADDRESS))
    for words in (
        "Nobody is to be reminded by telephone now", "No letter waits to be printed", "One is proposed where",
        "E-mail is not set up here", "Every patient knows", "It has never been seen",
    ):  # fmt: skip
        assert words in page


def test_background_work_that_was_seen_a_minute_ago_is_not_warned_of(clinic, admin):
    Pulse.objects.create(name="background", at=by().at - timedelta(minutes=1))
    assert "not running" not in said(admin.get(ADDRESS))


def test_the_page_asks_the_same_number_of_questions_however_much_there_is(clinic, admin):
    counts = []
    for more in (1, 3):
        for _ in range(more):
            reminded(clinic)
            missed_twice(clinic)
        with CaptureQueriesContext(connection) as asked:
            admin.get(ADDRESS)
        counts.append(len(asked))
    assert len(set(counts)) == 1 and counts[0] <= MOST_QUERIES
    assert Look.objects.filter(route="notices").values_list("rows", flat=True)[0] == 8


def test_a_waiting_notice_is_withdrawn_with_a_reason_and_stays_readable(clinic, admin):
    notice = reminded(clinic)
    page = f"/patients/{notice.patient.code}/"
    assert "Reminder two days before" in said(admin.get(page))
    assert admin.post(f"{ADDRESS}{notice.code}/withdraw/", {"why": ""}).status_code == 422
    assert admin.post(f"{ADDRESS}{notice.code}/withdraw/", {"why": "asked not to be rung"}).url == f"{page}#written"
    assert "asked not to be rung" in said(admin.get(page))
    assert "Ada Marsh" in said(admin.get(f"{ADDRESS}{notice.code}/"))


def test_a_therapist_reads_but_does_not_withdraw(clinic, therapist):
    notice = reminded(clinic)
    assert therapist.get(f"{ADDRESS}{notice.code}/").status_code == 200
    assert therapist.get(f"{ADDRESS}{notice.code}/withdraw/").status_code == 403
    assert Look.objects.get(route="notice").patient == notice.patient


def test_a_call_that_was_settled_meanwhile_is_said_and_not_written_twice(clinic, admin):
    notice = reminded(clinic)
    notices.log_call(notice, by=by(clinic.lead, TODAY), reached="spoke")
    answer = admin.post(f"{ADDRESS}{notice.code}/rung/", {"reached": "spoke"}, follow=True)
    assert "meanwhile" in said(answer) and Contact.objects.count() == 1


@pytest.mark.parametrize(
    ("typed", "refused"),
    [
        ({"email_consent": "on", "email": ""}, {"email": ["needed"]}),
        ({"postal_address": "\n".join("ABCDEFG")}, {"postal_address": ["too-many-lines"]}),
        ({"email_consent": "on", "email": "rosa@example.org", "postal_address": "4 Alder Row\nFernhollow"}, {}),
    ],
)
def test_how_a_patient_may_be_written_to_is_checked_and_shown(clinic, admin, typed, refused):
    page = f"/patients/{clinic.patient().code}/"
    answer = send(admin, f"{page}correct/", **typed)
    assert (errors(answer) if answer.status_code == 422 else {}) == refused
    assert ("4 Alder Row, Fernhollow" in said(admin.get(page))) == (not refused)


def test_a_long_list_goes_on_on_the_next_page(clinic, admin, monkeypatch):
    monkeypatch.setattr(views, "read_paging", lambda asked, total: Paging(int(asked["page"] or 1), 2, total))
    for _ in range(3):
        reminded(clinic)
    first, second = said(admin.get(ADDRESS)), said(admin.get(f"{ADDRESS}?page=2"))
    assert "1 to 2 of 3" in first and 'href="?page=2" data-next' in first and "data-previous" not in first
    assert "3 to 3 of 3" in second and 'href="?page=1" data-previous' in second and "data-next" not in second
