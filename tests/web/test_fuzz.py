"""Two thousand random requests as each role; `python -m tests.fuzz` asks as many as wanted."""

from collections.abc import Iterator
from typing import Any

import pytest
import time_machine
from django.db import transaction

from caseload.access.addresses import ADDRESSES
from tests.fuzz.asking import NOW, Fuzz
from tests.web.policy_clinic import World, world

REQUESTS = 500
pytestmark = pytest.mark.django_db


@pytest.fixture(scope="module")
def everything(django_db_setup: None, django_db_blocker: Any) -> Iterator[World]:
    with django_db_blocker.unblock(), time_machine.travel(NOW, tick=False), transaction.atomic():
        yield world()
        transaction.set_rollback(True)


@pytest.mark.parametrize("seed", range(4))
def test_whatever_is_asked_a_page_answers_and_nobody_sees_whom_they_may_not(everything: World, seed: int):
    with transaction.atomic():
        fuzz = Fuzz(everything, seed)
        fuzz.run(REQUESTS)
        transaction.set_rollback(True)
    assert fuzz.statuses.total() >= REQUESTS and len(fuzz.met) > len(ADDRESSES) / 3
