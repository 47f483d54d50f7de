"""Two processes that date the week at the same moment do it once between them."""

from threading import Barrier, Thread

import pytest
from django.db import connections

from caseload.actions.dating import make_sessions
from caseload.models import Session, Slot
from tests.record.acts import weekly
from tests.scenario import by, fernhollow


@pytest.mark.django_db(transaction=True)
def test_two_that_make_sessions_at_once_make_each_once():
    row = weekly(fernhollow())
    wanted = Session.objects.count()
    Session.objects.all().delete()
    start, made, faults = Barrier(2), [], []

    def make() -> None:
        try:
            start.wait()
            made.append(len(make_sessions(by=by()).sessions))
        except Exception as fault:
            faults.append(fault)
        finally:
            connections.close_all()

    threads = [Thread(target=make) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert (faults, sorted(made)) == ([], [0, wanted])
    assert Slot.objects.count() == 10 * row.sessions.count() == 10 * wanted
