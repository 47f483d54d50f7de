"""Bad input to the page of a visit is answered by a page: never a fault, and nothing is saved by it."""

import random

import pytest
from django.test import Client

from caseload.models import Episode, Visit
from tests.scenario import TODAY, Fernhollow
from tests.web.fuzz import NONSENSE, ask_nonsense, encodable
from tests.web.posting import held

ANSWERS = {200, 302, 400, 409, 422}


@pytest.fixture
def episode(clinic: Fernhollow) -> Episode:
    return clinic.episode()


@pytest.fixture
def address(episode: Episode) -> str:
    return f"/episodes/{episode.code}/visit/"


@pytest.mark.parametrize("live", [{}, {"live": "1"}])
def test_a_form_full_of_nonsense_is_answered_by_a_page(therapist: Client, address: str, live):
    names = list(therapist.get(address).context["form"].fields)
    for nonsense in NONSENSE:
        answer = therapist.post(address, encodable(dict.fromkeys(names, nonsense)) | live)
        assert answer.status_code in ANSWERS
    assert therapist.post(address, {name: ["x", "y"] for name in names} | live).status_code in ANSWERS
    assert therapist.post(address, live).status_code in ANSWERS
    assert not Visit.objects.exists()


def test_each_field_spoilt_alone_is_answered_by_a_page(therapist: Client, address: str):
    form, chance = therapist.get(address).context["form"], random.Random(0)
    whole = held(form) | {"d1_after": "continue", "d1_wound": "closed"}
    for name in form.fields:
        spoilt = encodable({name: chance.choice(NONSENSE)})
        assert therapist.post(address, whole | spoilt).status_code in ANSWERS, spoilt
        left_out = {field: value for field, value in whole.items() if field != name}
        assert therapist.post(address, left_out | {"live": "1"}).status_code in ANSWERS, name
    assert not Visit.objects.exists()


def test_an_appointment_takes_nonsense_no_better(therapist: Client, clinic: Fernhollow, episode: Episode):
    booked = clinic.book([episode.follow_ups.get(key="stitches-out")], TODAY)
    address = f"/appointments/{booked.code}/visit/"
    names = list(therapist.get(address).context["form"].fields)
    for nonsense in NONSENSE:
        assert therapist.post(address, encodable(dict.fromkeys(names, nonsense))).status_code in ANSWERS
    assert not Visit.objects.exists()


def test_nonsense_in_the_query_is_a_sentence(therapist: Client, address: str):
    answers = ask_nonsense(therapist, address, "also")
    assert {answer.status_code for answer in answers} == {409}
