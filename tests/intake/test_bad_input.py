"""Bad input never gives a fault: whatever is uploaded, typed or asked for, a page answers."""

from random import Random

import pytest

from caseload.models import IntakeBatch, Patient
from tests.intake.conftest import listing, said
from tests.intake.pages import TWO_WAYS, post_file, press
from tests.web.fuzz import ask_nonsense, post_nonsense


@pytest.mark.parametrize(
    "data",
    [None, b"", b"%PDF-1.7 a letter", b"PK\x03\x04 no workbook", b"<html><table></table>", b"\xd0\xcf\x11\xe0 old",
     b"Surname,Side\n", b"\x00\x01\x02", "Überschrift".encode("utf-16"), bytes(range(256)) * 40],
)  # fmt: skip
def test_what_is_no_list_is_said_on_the_page_and_nothing_is_kept(admin, data):
    answer = post_file(admin, data)
    assert answer.status_code == 422
    assert 'role="alert"' in answer.content.decode() and "Where it comes from" in answer.content.decode()
    assert not IntakeBatch.objects.exists()


def test_a_file_of_more_than_ten_megabytes_is_refused(admin):
    answer = post_file(admin, b"Surname,Side\n" + b"x,y\n" * 2_700_000)
    assert answer.status_code in (413, 422) and "10 MB" in answer.content.decode()
    assert not IntakeBatch.objects.exists()


@pytest.mark.parametrize("seed", range(12))
def test_chance_bytes_are_never_a_fault(admin, seed):
    assert post_file(admin, Random(seed).randbytes(3000)).status_code in (302, 422)
    assert post_file(admin, listing(said())[: seed * 40 + 10] + Random(seed).randbytes(9)).status_code in (302, 422)


@pytest.mark.parametrize("name", ["page", "per", "verdict"])
def test_nonsense_in_the_query_shows_the_list(admin, uploaded, name):
    answers = ask_nonsense(admin, f"/intake/{uploaded(said()).code}/", name)
    assert {answer.status_code for answer in answers} == {200}


@pytest.mark.parametrize("address", ["/intake/", "columns/"])
def test_nonsense_in_a_form_is_answered_by_a_page(admin, uploaded, address):
    own = address if address.startswith("/") else f"/intake/{uploaded(said()).code}/{address}"
    assert {answer.status_code for answer in post_nonsense(admin, own)} <= {200, 302, 400, 409, 422}


def test_nonsense_in_answers_is_passed_over(admin, uploaded):
    batch = uploaded(said(**TWO_WAYS))
    for nonsense in ("", "-1", "½", "9" * 40, "zzzzzzzzzzzz", "' OR 1=1 --", "🖐"):
        answer = press(admin, batch, "answers", **{"asked": nonsense, "person-2": nonsense, "version": nonsense})
        assert answer.status_code == 200
        press(admin, batch, "answers", **{"asked": "2", "person-2": nonsense, "operation-2": nonsense})
    press(admin, batch, "confirm")
    assert Patient.objects.count() <= 1


def test_an_answer_that_is_no_code_is_no_answer(admin, uploaded):
    """A zero byte in particular cannot be stored by PostgreSQL."""
    batch = uploaded(said(**TWO_WAYS))
    for nonsense in ("a\x00b", "' OR 1=1 --", "ø" * 12, "x" * 13):
        press(admin, batch, "answers", **{"asked": "2", "person-2": nonsense, "operation-2": nonsense})
        assert batch.rows.get().decision == {}
