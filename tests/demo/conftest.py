"""The demo, built small once for each process (on SQLite); every test sees it as it was built."""

from collections.abc import Iterator
from datetime import date

import pytest
from pytest_django import DjangoDbBlocker

from caseload.demo.scenario import Summary, build
from tests.kept import built_once, copied, put_back

TODAY = date(2026, 6, 17)


def small() -> Summary:
    return build(TODAY, scale=0.1)


@pytest.fixture(scope="module")
def built_small(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Summary]:
    with django_db_blocker.unblock():
        empty = copied()
        yield built_once(small)
        put_back(empty)


@pytest.fixture
def built(built_small: Summary, db: None) -> Summary:
    return built_small
