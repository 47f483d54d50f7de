"""A list on its pages: seen row by row, answered, taken in, and by whom (issue "Real input")."""

import re
from uuid import uuid4

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from caseload.actions import intake
from caseload.models import Episode, IntakeBatch, Patient
from tests.exchange.lists import FIXTURES
from tests.intake.conftest import listing, said, verdicts
from tests.intake.pages import TWO_WAYS, WRONG, post_file, press, shown, text_of
from tests.scenario import by


def test_a_list_is_shown_row_by_row_and_nothing_is_written(admin, uploaded):
    batch = uploaded((FIXTURES / "dirty.csv").read_bytes())
    text = text_of(admin, batch, "?per=100")
    assert shown(text) == list(batch.rows.values_list("number", flat=True))
    assert "Date of op" in text and "ABBOT, Ada" in text
    assert not Patient.objects.exists() and not Episode.objects.exists()


def test_a_further_sheet_of_a_workbook_that_was_not_read_is_named(admin, uploaded):
    batch = uploaded((FIXTURES / "workbook.xlsx").read_bytes())
    assert "Not read, though it holds something: sheet Key." in " ".join(text_of(admin, batch).split())
    assert "Not read" not in text_of(admin, uploaded(said()))


def test_each_filter_shows_the_rows_that_it_counts(admin, uploaded):
    batch = uploaded(said(), said(**WRONG), said(**TWO_WAYS))
    assert verdicts(batch) == ["new", "refused", "doubtful"]
    for number, verdict in enumerate(verdicts(batch), 2):
        answer = admin.get(f"/intake/{batch.code}/?verdict={verdict}")
        assert shown(answer.content.decode()) == [number]
        assert answer.context["counts"].verdicts[verdict] == 1
    assert shown(text_of(admin, batch, "?verdict=changed")) == []


def test_an_answer_is_kept_and_the_row_is_then_taken_in(admin, uploaded):
    batch = uploaded(said(), said(**TWO_WAYS))
    assert 'name="read-3"' in text_of(admin, batch, "?verdict=doubtful")
    press(admin, batch, "answers", **{"asked": "3", "read-3": "on"})
    assert re.search(r'name="read-3"\s+checked', text_of(admin, batch, "?verdict=doubtful"))
    press(admin, batch, "confirm")
    assert Patient.objects.count() == 2


def test_an_answer_is_taken_back(admin, uploaded):
    batch = uploaded(said(**TWO_WAYS))
    press(admin, batch, "answers", **{"asked": "2", "read-2": "on"})
    press(admin, batch, "answers", asked="2")
    assert batch.rows.get().outcome == ""


def test_taking_in_writes_the_rows_and_leads_to_their_episodes(admin, uploaded):
    batch = uploaded(said(), said(**WRONG))
    text = press(admin, batch, "confirm").content.decode()
    episode = Episode.objects.get()
    assert f'href="/episodes/{episode.code}/"' in text and "Left out" in text
    assert admin.get(f"/episodes/{episode.code}/").status_code == 200


def test_a_double_click_takes_in_once(admin, uploaded):
    batch = uploaded(said())
    sent = {"key": str(uuid4()), "version": "1"}
    answers = [admin.post(f"/intake/{batch.code}/confirm/", sent, follow=True) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [200, 200]
    assert "was taken in already" not in answers[1].content.decode()
    assert Episode.objects.count() == 1


def test_another_sending_of_a_list_that_was_taken_in_says_so(admin, uploaded):
    batch = uploaded(said())
    press(admin, batch, "confirm")
    assert "was taken in already" in press(admin, batch, "confirm").content.decode()
    assert Episode.objects.count() == 1


def test_a_double_click_uploads_once(admin):
    key = str(uuid4())
    answers = [post_file(admin, listing(said()), key=key) for _ in range(2)]
    assert IntakeBatch.objects.count() == 1
    assert {answer.url for answer in answers} == {f"/intake/{IntakeBatch.objects.get().code}/"}


@pytest.mark.parametrize("what", ["confirm", "answers"])
def test_a_list_that_somebody_answered_meanwhile_is_not_taken_as_it_was_seen(admin, clinic, uploaded, what):
    batch = uploaded(said())
    intake.decide(batch, by=by(clinic.lead), version=None, decisions={})
    assert "Somebody else changed this" in press(admin, batch, what, version="1").content.decode()
    assert not Episode.objects.exists()


def test_an_upload_is_thrown_away_whole(admin, uploaded):
    batch = uploaded(said())
    assert press(admin, batch, "throw-away").status_code == 200
    assert not IntakeBatch.objects.exists()
    assert admin.get(f"/intake/{batch.code}/").status_code == 404
    assert admin.post(f"/intake/{batch.code}/throw-away/", follow=True).redirect_chain[-1][0] == "/intake/"


def test_a_page_that_a_list_does_not_have_is_its_last_and_that_is_said(admin, uploaded):
    assert "has no page 7" in text_of(admin, uploaded(said()), "?page=7")


def test_a_list_taken_in_before_is_known_row_by_row(admin, uploaded):
    press(admin, uploaded(said(), said(digit="middle")), "confirm")
    again = uploaded(said(), said(digit="middle"))
    assert verdicts(again) == ["known", "known"]
    assert shown(text_of(admin, again, "?verdict=known")) == [2, 3]


def test_a_therapist_has_no_intake(therapist, admin, uploaded):
    batch = uploaded(said(**WRONG))
    own = f"/intake/{batch.code}/"
    for address in ("/intake/", own, f"{own}columns/"):
        assert therapist.get(address).status_code == 403
    for what in ("answers", "confirm", "throw-away", "columns"):
        assert press(therapist, batch, what).status_code == 403
    assert "/intake/" not in therapist.get("/caseload/").content.decode()


def test_a_lead_may_take_a_list_in(lead, uploaded):
    press(lead, uploaded(said()), "confirm")
    assert Episode.objects.count() == 1


@pytest.mark.parametrize("query", ["", "?verdict=doubtful"])
def test_the_queries_of_a_page_do_not_grow_with_its_rows(admin, clinic, uploaded, query):
    def queries(rows: int) -> int:
        batch = uploaded(
            *(said(surgery_date="3/4/26", telephone=f"07700 900{n:03}", nhs_number="") for n in range(rows))
        )
        with CaptureQueriesContext(
            connection,
        ) as found:
            assert len(shown(text_of(admin, batch, query))) == rows
        return len(found)

    assert queries(2) == queries(20)
