"""Pages as people see them: a small Fernhollow on a fixed day, and one signed-in client for each role."""

from collections.abc import Callable
from datetime import UTC, datetime

import pytest
import time_machine
from django.conf import settings
from django.test import Client

from caseload.models import Staff
from tests.scenario import TODAY, Fernhollow, fernhollow
from tests.signed_in import session_of


@pytest.fixture
def clinic(db: None) -> Fernhollow:
    return fernhollow()


@pytest.fixture(autouse=True)
def today():
    with time_machine.travel(datetime(TODAY.year, TODAY.month, TODAY.day, 9, tzinfo=UTC), tick=False):
        yield TODAY


@pytest.fixture
def sign_in() -> Callable[[Staff], Client]:
    def signed_in(staff: Staff) -> Client:
        client = Client()
        client.cookies[settings.SESSION_COOKIE_NAME] = session_of(staff)
        return client

    return signed_in


@pytest.fixture
def cheap(settings) -> None:
    """What is tested is not the hash."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture
def therapist(clinic: Fernhollow, sign_in) -> Client:
    return sign_in(clinic.therapist)


@pytest.fixture
def admin(clinic: Fernhollow, sign_in) -> Client:
    return sign_in(clinic.admin)


@pytest.fixture
def lead(clinic: Fernhollow, sign_in) -> Client:
    return sign_in(clinic.lead)
