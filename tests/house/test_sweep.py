"""One pass over what is due: counted in words, safe to run twice, and one failure holds up no other row."""

from datetime import UTC, datetime, timedelta
from io import StringIO

import pytest
from django.core.management import call_command

from caseload.actions import jobs, pulses, ticks
from caseload.management.commands import sweep
from caseload.models import JobState, Pulse
from caseload.outreach.post import Came
from tests.scenario import by

NOW = datetime(2026, 4, 1, 9, tzinfo=UTC)


@pytest.fixture
def work(monkeypatch, db):
    """A tick that is due once, and two kinds of job."""
    monkeypatch.setattr(ticks, "SCHEDULE", {"look": (ticks.every(hours=1), lambda now: None)})
    monkeypatch.setitem(jobs.KINDS, "good", carried_out)
    monkeypatch.setitem(jobs.KINDS, "bad", lambda job: 1 / 0)


def carried_out(job):
    yield 1, 1
    return "done"


def said() -> str:
    out = StringIO()
    call_command("sweep", stdout=out)
    return out.getvalue()


def test_it_does_what_is_due_and_the_second_time_nothing(work):
    good = jobs.ask("good", by=by())
    assert said() == "1 tick, 0 e-mails sent, 1 job.\n"
    good.refresh_from_db()
    assert good.state == JobState.DONE
    assert said() == "0 ticks, 0 e-mails sent, 0 jobs.\n"


def test_a_job_that_fails_holds_up_no_other(work):
    jobs.ask("bad", by=by())
    jobs.ask("good", by=by())
    assert said() == "1 tick, 0 e-mails sent, 1 job, 1 job failed.\n"


def test_e_mail_is_sent_until_none_is_due(work, monkeypatch):
    passes = [[Came.SENT, Came.REFUSED], [Came.SENT, Came.WITHDRAWN], []]
    monkeypatch.setattr(sweep, "send_due", lambda limit: passes.pop(0))
    assert said() == "1 tick, 2 e-mails sent, 0 jobs, 1 e-mail not sent.\n"


def test_a_mail_server_that_is_away_ends_the_pass(work, monkeypatch):
    passes = [[Came.SENT, Came.UNREACHABLE]]
    monkeypatch.setattr(sweep, "send_due", lambda limit: passes.pop(0))
    assert "The mail server could not be reached" in said()


def test_a_pulse_is_one_row_written_every_ten_seconds_at_most(db, monkeypatch, django_assert_num_queries):
    monkeypatch.setattr(pulses, "_shown", {})
    pulses.pulse("background jobs", NOW)
    with django_assert_num_queries(0):
        pulses.pulse("background jobs", NOW + timedelta(seconds=9))
    assert Pulse.objects.get().at == NOW
    pulses.pulse("background jobs", NOW + timedelta(seconds=10))
    assert Pulse.objects.get().at == NOW + timedelta(seconds=10)


def test_a_clock_that_was_put_back_keeps_no_pulse_from_being_written(db, monkeypatch):
    monkeypatch.setattr(pulses, "_shown", {"background jobs": NOW})
    pulses.pulse("background jobs", NOW - timedelta(hours=1))
    assert Pulse.objects.get().at == NOW - timedelta(hours=1)
