"""The demo, built small once for each module that asks for it; every test sees it as it was built."""

from collections.abc import Iterator
from datetime import date

import pytest
from django.db import transaction
from pytest_django import DjangoDbBlocker

from caseload.demo.scenario import Summary, build

TODAY = date(2026, 6, 17)


@pytest.fixture(scope="module")
def built_once(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Summary]:
    with django_db_blocker.unblock(), transaction.atomic():
        yield build(TODAY, scale=0.1)
        transaction.set_rollback(True)


@pytest.fixture
def built(built_once: Summary, db: None) -> Summary:
    return built_once
