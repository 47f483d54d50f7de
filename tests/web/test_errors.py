"""Pages for what cannot be answered: each says what was kept and what to do, and none says what happened inside."""

import psycopg
import pytest
from django.core.exceptions import RequestDataTooBig, SuspiciousOperation
from django.db import Error, IntegrityError, InterfaceError, InternalError, OperationalError
from django.test import Client, RequestFactory

from caseload.errors import Refusal
from caseload.reads import overdue
from caseload.web.refusals import refusal_page
from caseload.web.views import errors


@pytest.fixture
def request_of(clinic):
    request = RequestFactory().get("/overdue/")
    request.user = clinic.lead
    return request


def test_an_unknown_address_is_a_calm_page(lead):
    answer = lead.get("/nowhere/")
    assert answer.status_code == 404 and "There is nothing at this address" in answer.content.decode()


def test_an_unknown_address_is_calm_for_strangers_too(client, db):
    assert client.get("/nowhere/").status_code == 404


def test_a_fault_gives_a_reference_and_nothing_of_what_happened(lead, monkeypatch, caplog):
    def fail(*_):
        raise ZeroDivisionError("secret inside")

    monkeypatch.setattr(overdue, "counts", fail)
    lead.raise_request_exception = False
    answer = lead.get("/overdue/")
    page = answer.content.decode()
    reference = page.split("<kbd>")[1].split("</kbd>")[0]
    assert answer.status_code == 500 and "secret" not in page and f"Reference {reference}" in caplog.text


def test_a_fault_page_asks_the_database_for_nothing(client, django_assert_num_queries, request_of):
    with django_assert_num_queries(0):
        assert errors.broken(RequestFactory().get("/")).status_code == 500


def of_code(code: str) -> InternalError:
    fault = InternalError("said inside")
    fault.__cause__ = psycopg.errors.lookup(code)()
    return fault


AWAY = [OperationalError("said inside"), InterfaceError("said inside"), of_code("25006")]


@pytest.mark.parametrize("fault", AWAY)
@pytest.mark.parametrize(
    ("method", "says"),
    [("GET", "Nothing was changed"), ("POST", "it may not have been saved"), ("POST", "not saved a")],
)
def test_a_database_that_is_away_is_a_page_that_claims_nothing(fault, method, says):
    answer = broken_by(fault, method)
    page = " ".join(answer.content.decode().split())
    assert answer.status_code == 503 and answer["Retry-After"] == "30"
    assert says in page and "said inside" not in page and "has a fault" not in page


def test_another_fault_in_the_database_stays_a_fault_of_ours():
    assert broken_by(of_code("25P02"), "POST").status_code == 500
    assert broken_by(IntegrityError("said inside"), "POST").status_code == 500


def broken_by(fault: Exception, method: str):
    try:
        raise fault
    except Error:
        return errors.broken(RequestFactory().generic(method, "/"))


@pytest.mark.parametrize(("error", "status"), [(RequestDataTooBig(), 413), (SuspiciousOperation(), 400)])
def test_too_much_and_not_understood_have_pages_of_their_own(request_of, error, status):
    assert errors.bad_request(request_of, error).status_code == status


def test_a_form_without_its_token_keeps_what_was_typed(clinic):
    client = Client(enforce_csrf_checks=True)
    client.force_login(clinic.lead)
    answer = client.post("/search/", {"text": "anybody"})
    assert answer.status_code == 403 and "had become too old to send" in answer.content.decode()


@pytest.mark.parametrize(("code", "status"), [("not-allowed", 403), ("key-unreadable", 400), ("red-flag-open", 409)])
def test_a_refusal_that_no_form_took_is_a_page_with_its_sentence(request_of, code, status):
    answer = refusal_page(request_of, Refusal(code, "This is the reason."))
    assert answer.status_code == status and "This is the reason." in answer.content.decode()


def test_a_key_that_no_form_wrote_is_refused(lead):
    assert lead.post("/overdue/", {"kind": "csv", "key": "nonsense"}).status_code == 400


def test_a_session_that_a_full_disk_did_not_take_is_no_sign_out(lead, monkeypatch):
    def full(*_, **__):
        raise OperationalError("database or disk is full")

    monkeypatch.setattr("django.contrib.sessions.models.Session.save", full)
    answer = lead.post("/caseload/", {"name": "Ashdown"})
    assert answer.status_code == 503 and "it may not have been saved" in answer.content.decode()
