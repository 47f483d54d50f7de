"""Letters as people print them: a batch with its cover list, posted or put back; the letter to a referrer, read."""

from datetime import date, timedelta

import pytest

from caseload.actions import appointments, letters, notices
from caseload.models import Appointment, LetterBatch, Look, Notice, Session
from tests.record.before import missed_twice
from tests.scenario import by
from tests.web.posting import held, send
from tests.web.test_notices import ADDRESS, said

HOME = "4 Alder Row\nFernhollow\nFH1 2AB"


@pytest.fixture
def untold(clinic) -> Appointment:
    """Booked yesterday for a day three weeks off, and nobody has told the patient, who has a postal address."""
    patient = clinic.patient(given="Rosa", family="Quill", postal_address=HOME)
    row = clinic.episode(patient, today=date(2026, 3, 31)).follow_ups.get(key="outcome-review")
    return clinic.book([row], date(2026, 5, 1), today=date(2026, 3, 31), told="untold", approved_by="Dr Wren",
                       approved_why="before a journey")  # fmt: skip


def printed(client) -> LetterBatch:
    answer = client.post(f"{ADDRESS}letters/")
    batch = LetterBatch.objects.latest("pk")
    assert answer.url == f"{ADDRESS}letters/{batch.code}/"
    return batch


def page_of(client, batch: LetterBatch) -> str:
    return said(client.get(f"{ADDRESS}letters/{batch.code}/"))


def test_a_batch_has_a_cover_list_and_each_letter_with_its_address(untold, admin):
    assert "1 letter to print" in said(admin.get(ADDRESS))
    page = page_of(admin, printed(admin))
    for words in (
        "Cover list",
        "Rosa Quill",
        "4 Alder Row",
        "FH1 2AB",
        "01632 960100",
        "not posted yet",
        "1 April 2026",
    ):
        assert words in page
    assert Look.objects.get(route="letter-batch").patient == untold.patient


def test_a_letter_stays_as_it_was_printed(untold, admin):
    batch = printed(admin)
    untold.patient.__class__.objects.update(postal_address="Elsewhere")
    assert "Elsewhere" not in page_of(admin, batch)


def test_a_letter_whose_address_changed_is_taken_out_and_printed_anew(untold, admin):
    batch = printed(admin)
    untold.patient.__class__.objects.update(postal_address="1 Elsewhere Lane\nFernhollow")
    assert "the address has changed" in page_of(admin, batch)
    admin.post(f"{ADDRESS}letters/{batch.code}/posted/")
    untold.refresh_from_db()
    assert untold.told == "untold" and Notice.objects.get(kind="booked").state == "waiting"
    assert "1 Elsewhere Lane" in page_of(admin, printed(admin))


def test_posted_letters_are_sent_and_leave_a_message_for_the_untold(untold, admin):
    batch = printed(admin)
    admin.post(f"{ADDRESS}letters/{batch.code}/posted/")
    untold.refresh_from_db()
    notice = Notice.objects.get(batch=batch)
    assert untold.told == "message-left" and notice.state == "sent" and "Rosa Quill" in notice.sent_to
    assert "posted Wed 1 Apr 2026" in page_of(admin, batch)


def test_a_batch_is_posted_once(untold, admin):
    batch = printed(admin)
    for _ in range(2):
        answer = admin.post(f"{ADDRESS}letters/{batch.code}/posted/", follow=True)
    assert "recorded already" in said(answer) and Notice.objects.filter(state="sent").count() == 1


def test_what_was_not_posted_waits_for_the_next_batch(untold, admin):
    batch = printed(admin)
    for _ in range(2):
        assert admin.post(f"{ADDRESS}letters/{batch.code}/put-back/").url.startswith(ADDRESS)
    notice = Notice.objects.get(kind="booked")
    assert (notice.state, notice.batch, notice.sent_text) == ("waiting", None, "")
    assert "1 letter to print" in said(admin.get(ADDRESS))


def test_a_letter_withdrawn_after_it_was_printed_is_to_be_taken_out(untold, admin, clinic):
    batch = printed(admin)
    session = clinic.session(date(2026, 4, 30))
    appointments.move(untold, by=by(clinic.admin), session=session, start=600, approved_by="Dr Wren", approved_why="-")
    page = page_of(admin, batch)
    assert "take out" in page and 'aria-label="Letter 1"' not in page
    admin.post(f"{ADDRESS}letters/{batch.code}/posted/")
    assert not Notice.objects.filter(state="sent").exists()


def test_where_no_letter_waits_no_batch_is_made(clinic, admin):
    assert "No letter waits" in said(admin.post(f"{ADDRESS}letters/", follow=True)) and not LetterBatch.objects.exists()


def test_those_beyond_the_most_wait_for_the_next_batch(clinic, admin, monkeypatch):
    monkeypatch.setattr(letters, "MOST", 2)
    for _ in range(3):
        episode = missed_twice(clinic)
        letters.write_to_referrer(episode, by=by(clinic.lead), to="Hand surgery", text="Missed.")
    printed(admin)
    assert "1 letter to print" in said(admin.get(ADDRESS))


def test_the_letter_to_a_referrer_is_read_before_it_is_written_and_discharges_nobody(clinic, lead):
    episode = missed_twice(clinic)
    page = f"{ADDRESS}referrers/{episode.code}/"
    shown = lead.get(page)
    assert "It discharges nobody" in said(shown) and "Dear colleague" in said(shown)
    assert not Notice.objects.filter(kind="referrer").exists()
    assert send(lead, page, page=shown).url == f"{ADDRESS}#letters"
    episode.refresh_from_db()
    assert episode.ended_on is None and Notice.objects.get(kind="referrer").sent_text
    assert lead.get(page).status_code == 409


def test_a_letter_that_changed_since_it_was_shown_is_read_again(clinic, lead):
    page = f"{ADDRESS}referrers/{missed_twice(clinic).code}/"
    typed = held(lead.get(page).context["form"]) | {"seen": "another letter"}
    answer = lead.post(page, typed)
    assert answer.status_code == 422 and "Read it again" in said(answer)
    assert lead.post(page, held(answer.context["form"])).status_code == 302


def test_who_is_to_be_told_shows_what_was_written(untold, admin):
    assert "Letter to be printed" in said(admin.get("/to-book/"))
    batch = printed(admin)
    assert f'href="{ADDRESS}letters/{batch.code}/">Letter printed, not posted yet' in said(admin.get("/to-book/"))


def test_an_email_that_was_refused_is_said_where_somebody_is_to_be_told(untold, admin, clinic):
    notice = Notice.objects.get(kind="booked")
    Notice.objects.filter(pk=notice.pk).update(channel="email", tries=1)
    notices.record_failure(notice, by=by(clinic.lead), error="refused", lasting=True)
    refused = "E-mail could not be sent: the mail server refused it"
    assert refused in said(admin.get("/to-book/")) and "the mail server refused it" in said(admin.get(ADDRESS))


def test_a_letter_is_not_due_while_what_made_it_can_be_taken_back(clinic, admin):
    row = clinic.episode(clinic.patient(postal_address=HOME)).follow_ups.get(key="outcome-review")
    clinic.book([row], row.earliest_on + timedelta(days=4), told="untold")
    assert "0 letters to print" in said(admin.get(ADDRESS)) and Session.objects.exists()
    assert "1 is due later" in said(admin.get(ADDRESS))


def test_who_would_get_the_letter_too_late_is_rung_and_stays_to_be_told(untold, admin):
    batch = printed(admin)
    Appointment.objects.filter(pk=untold.pk).update(on=date(2026, 4, 8))
    assert "ring as well" in page_of(admin, batch)
    admin.post(f"{ADDRESS}letters/{batch.code}/posted/")
    untold.refresh_from_db()
    assert untold.told == "untold" and Notice.objects.get(batch=batch).state == "sent"
