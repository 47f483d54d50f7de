"""Metrics: for whoever has the token, what is counted and how long the oldest has waited, and no code in any label."""

from contextlib import suppress
from datetime import UTC, datetime, timedelta
from itertools import product

import pytest
from django.db import OperationalError
from django.http import HttpResponse
from django.test import RequestFactory
from django.urls import NoReverseMatch, get_resolver, resolve, reverse
from prometheus_client.parser import text_string_to_metric_families

from caseload.booking.notices import Channel, NoticeKind
from caseload.models import Job, JobState, Notice, NoticeState, Patient, Pulse, Tick
from caseload.web import metrics
from caseload.web.views.metrics import may_read

NOW = datetime(2026, 4, 1, 9, tzinfo=UTC)
CODE = "k3v9q7hx2m4p"
CANDIDATES = (CODE, "5409", "2026-04-01", "a" * 40, "wound-check")
"""Something for each kind of argument that a route takes."""
TOKEN = "a-long-token"


def told() -> dict[tuple[str, str], float]:
    """Each figure by its name and its labels' values."""
    families = text_string_to_metric_families(metrics.exposed(NOW).decode())
    return {
        (sample.name, " ".join(sample.labels.values())): sample.value for each in families for sample in each.samples
    }


def ask(path: str, status: int = 200, method: str = "GET") -> None:
    request = RequestFactory().generic(method, path)
    request.resolver_match = resolve(path) if path != "/nowhere/" else None
    metrics.measured(lambda _: HttpResponse(status=status))(request)


def paths() -> list[str]:
    """An address of every route, with a code wherever one belongs."""
    names = {
        name: choices[0][0][0][1] for name, choices in get_resolver().reverse_dict.lists() if isinstance(name, str)
    }
    return [path_of(name, arguments) for name, arguments in names.items()]


def path_of(name: str, arguments: list[str]) -> str:
    for given in product(CANDIDATES, repeat=len(arguments)):
        with suppress(NoReverseMatch):
            return reverse(name, kwargs=dict(zip(arguments, given, strict=True)))
    raise AssertionError(f"{name} takes something that no candidate is")


def test_no_label_carries_anything_of_an_address_but_the_name_of_its_route(db):
    asked = paths()
    assert len(asked) > 60 and sum(CODE in path for path in asked) > 30
    for path in asked:
        ask(path)
    labels = {labels for _, labels in told()}
    assert any("GET episode 2xx" in each for each in labels)
    assert not any(word in each for each in labels for word in (*CANDIDATES[:4], "/"))


def test_a_client_that_invents_addresses_and_methods_makes_no_new_label(db):
    before = told()
    for method in ("BREW", "STEEP"):
        ask("/nowhere/", 404, method)
    key = ("caseload_requests_total", "OTHER unknown 4xx")
    assert told()[key] - before.get(key, 0) == 2
    assert not any("BREW" in labels for _, labels in told())


def test_requests_are_counted_by_route_method_and_class_of_status_and_timed_by_route(db):
    before = told()
    for status in (200, 204, 302, 500):
        ask("/help/", status)
    after = told()
    counted = {labels: after[name, labels] - before.get((name, labels), 0) for name, labels in after if "total" in name}
    assert (counted["GET help 2xx"], counted["GET help 3xx"], counted["GET help 5xx"]) == (2, 1, 1)
    assert (
        after["caseload_request_seconds_count", "help"] - before.get(("caseload_request_seconds_count", "help"), 0) == 4
    )


def notice(number: int, channel: Channel, due_at: datetime, **own) -> Notice:
    patient, _ = Patient.objects.get_or_create(given="Ada", family="Alder", born_on=NOW.date())
    return Notice.objects.create(
        key=f"{number}", kind=NoticeKind.BOOKED, channel=channel, patient=patient, made_at=NOW, due_at=due_at, **own
    )


def test_notices_are_told_by_channel_with_the_age_of_the_oldest_that_is_due(db):
    notice(1, Channel.EMAIL, NOW - timedelta(minutes=5))
    notice(2, Channel.EMAIL, NOW - timedelta(minutes=2))
    notice(3, Channel.EMAIL, NOW + timedelta(days=5))
    notice(4, Channel.CALL, NOW - timedelta(hours=1), state=NoticeState.SENT, sent_at=NOW)
    found = told()
    assert [found[f"caseload_notices_{name}", "email"] for name in ("waiting", "due", "oldest_due_seconds")] == [
        3,
        2,
        300,
    ]
    assert found["caseload_notices_waiting", "call"] == found["caseload_notices_oldest_due_seconds", "letter"] == 0


def job(state: JobState, hours: int) -> None:
    at = NOW - timedelta(hours=hours)
    ended = None if state in (JobState.WAITING, JobState.RUNNING) else at
    Job.objects.create(kind="rederive", state=state, created_at=at, ended_at=ended)


def test_jobs_are_told_by_state_and_failures_for_a_day(db):
    for state, hours in ((JobState.WAITING, 2), (JobState.WAITING, 1), (JobState.RUNNING, 3), (JobState.FAILED, 5)):
        job(state, hours)
    job(JobState.FAILED, 25)
    job(JobState.DONE, 1)
    found = told()
    assert [found["caseload_jobs", state] for state in ("waiting", "running", "failed")] == [2, 1, 1]
    assert found["caseload_jobs_oldest_waiting_seconds", ""] == 7200


def test_pulses_and_ticks_are_told_in_seconds(db):
    Pulse.objects.create(name="jobs@one", at=NOW - timedelta(seconds=90))
    Tick.objects.create(name="nightly-rederive", due_at=NOW - timedelta(seconds=30))
    Tick.objects.create(name="make-sessions", due_at=NOW + timedelta(hours=1))
    found = told()
    assert found["caseload_pulse_age_seconds", "jobs@one"] == 90
    assert found["caseload_tick_overdue_seconds", "nightly-rederive"] == 30
    assert found["caseload_tick_overdue_seconds", "make-sessions"] == 0


def test_it_costs_four_queries_however_much_there_is(db, django_assert_num_queries):
    for number in range(20):
        notice(number, Channel.EMAIL, NOW)
        job(JobState.WAITING, number)
    with django_assert_num_queries(4):
        metrics.exposed(NOW)


def test_without_a_database_the_requests_are_told_all_the_same(monkeypatch):
    def gone(now):
        raise OperationalError

    monkeypatch.setattr(metrics, "backlog", gone)
    ask("/help/")
    found = told()
    assert found["caseload_database_up", ""] == 0 and found["caseload_requests_total", "GET help 2xx"] >= 1


@pytest.mark.parametrize(
    ("token", "sent", "may"),
    [
        (TOKEN, f"Bearer {TOKEN}", True),
        (TOKEN, f"Bearer {TOKEN}x", False),
        (TOKEN, f"bearer{TOKEN}", False),
        (TOKEN, "", False),
        ("", "Bearer ", False),
        ("", "", False),
        (TOKEN, "Bearer ä", False),
    ],
)
def test_only_whoever_has_the_token_may_read_and_nobody_where_there_is_none(settings, token, sent, may):
    settings.METRICS_TOKEN = token
    assert may_read(sent) is may


def test_to_anybody_else_there_is_nothing_at_the_address(client, db, settings):
    assert client.get("/metrics").status_code == 404
    settings.METRICS_TOKEN = TOKEN
    assert client.get("/metrics").status_code == 404
    answer = client.get("/metrics", headers={"authorization": f"Bearer {TOKEN}", "host": "10.0.0.7"})
    assert answer.status_code == 200 and b"caseload_database_up 1.0" in answer.content
