"""Every act asks for the role of whoever acts, before anything else: no database decides it."""

import pytest

from caseload.access import ALLOWED
from caseload.errors import Refusal
from caseload.models import Staff
from caseload.timetable.terms import Owner
from tests.record.acts import CALLS
from tests.record.test_every_act import every_act, name_of
from tests.scenario import by


@pytest.fixture(autouse=True)
def mail(settings) -> None:
    settings.MAIL_URL = "folder:"


@pytest.mark.parametrize("function", every_act(), ids=name_of)
def test_an_act_is_refused_to_a_role_that_may_not(clinic, function):
    others = set(Owner) - ALLOWED[function.act]
    for role in others:
        staff = Staff.objects.create(username=f"{role}-who-cannot", name="Not", **{f"is_{role}": True})
        with pytest.raises(Refusal) as refusal:
            CALLS[function](clinic, by(staff))
        assert refusal.value.code == "not-allowed"
