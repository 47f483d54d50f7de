"""The question of a date field: what is read in what was typed; and looking at forms, which is recorded as well."""

import pytest
from django.test import Client

from caseload.models import Look
from tests.scenario import Fernhollow


@pytest.mark.parametrize(
    ("asked", "answer"),
    [
        ({"text": "today"}, "Wed 1 Apr 2026"),
        ({"text": "+10", "since": "2026-03-20"}, "Sat 11 Apr 2026, day 22"),
        ({"text": "3/4/26"}, "Fri 3 Apr 2026 (day first; if Wed 4 Mar 2026 is meant, type the month as a word)"),
        ({"text": "3 apr", "since": "nonsense"}, "Fri 3 Apr 2026"),
        ({"text": "17/5/1958", "as": "birth"}, "Sat 17 May 1958"),
        ({"text": ""}, ""),
    ],
)
def test_a_typed_date_is_answered_in_words(admin: Client, asked, answer: str):
    assert admin.post("/dates/", asked).content.decode() == answer


def test_what_cannot_be_read_is_answered_with_the_remedy(admin: Client):
    assert "type the day first" in admin.post("/dates/", {"text": "soon"}).content.decode()


def test_the_question_is_posted_and_only_by_staff(admin: Client, client: Client):
    assert admin.get("/dates/").status_code == 405
    assert client.post("/dates/", {"text": "today"}).status_code == 302


def test_looking_at_a_form_about_a_patient_is_recorded(admin: Client, clinic: Fernhollow):
    patient = clinic.patient()
    admin.get(f"/patients/{patient.code}/correct/")
    assert Look.objects.get().route == "patient-correct"
