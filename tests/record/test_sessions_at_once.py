"""Two processes that date the week at the same moment do it once between them."""

import pytest

from caseload.actions.dating import make_sessions
from caseload.models import Session, Slot
from tests.record.at_once import at_once
from tests.record.before import weekly
from tests.scenario import by, fernhollow


@pytest.mark.django_db(transaction=True)
def test_two_that_make_sessions_at_once_make_each_once():
    row = weekly(fernhollow())
    wanted = Session.objects.count()
    Session.objects.all().delete()
    made = at_once(*[lambda: len(make_sessions(by=by()).sessions)] * 2)
    assert sorted(made) == [0, wanted]
    assert Slot.objects.count() == 10 * row.sessions.count() == 10 * wanted
