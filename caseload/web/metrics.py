"""What is counted of the requests, and what is read of the background work, for whoever collects metrics.

Labels are names of routes, methods, classes of status, channels, states, ticks, and parts of the background work:
words of the program. No path, no code and nothing that a client typed becomes one.
"""

import time
from collections.abc import Callable, Iterator
from datetime import datetime
from typing import Final

from django.conf import settings
from django.db import DatabaseError
from django.http import HttpRequest, HttpResponse
from prometheus_client import CollectorRegistry, Counter, Histogram, generate_latest, values
from prometheus_client.core import GaugeMetricFamily, Metric
from prometheus_client.multiprocess import MultiProcessCollector
from prometheus_client.registry import Collector

from caseload.reads.backlog import Backlog, backlog
from caseload.web.answered import method_of, route_of

BUCKETS: Final = (0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10)
ANSWERED = Counter("caseload_requests", "Requests answered.", ["route", "method", "status"], registry=None)
TOOK = Histogram("caseload_request_seconds", "Seconds to answer.", ["route"], buckets=BUCKETS, registry=None)

Answer = Callable[[HttpRequest], HttpResponse]


def measured(answer: Answer) -> Answer:
    """Middleware: count each request and the time that it took."""

    def answer_and_count(request: HttpRequest) -> HttpResponse:
        began = time.perf_counter()
        response = answer(request)
        route = route_of(request)
        ANSWERED.labels(route, method_of(request), f"{response.status_code // 100}xx").inc()
        TOOK.labels(route).observe(time.perf_counter() - began)
        return response

    return answer_and_count


def exposed(now: datetime) -> bytes:
    """All of it as text. Several processes share what they count through files in a folder."""
    registry = CollectorRegistry()
    if values.ValueClass is values.MutexValue:
        registry.register(ANSWERED)
        registry.register(TOOK)
    else:
        MultiProcessCollector(registry, str(settings.METRICS_FOLDER))
    registry.register(Background(now))
    return generate_latest(registry)


class Background(Collector):
    """Read from the tables when somebody asks, so that every web server tells the same."""

    def __init__(self, now: datetime) -> None:
        self.now = now

    def describe(self) -> list[Metric]:
        return []

    def collect(self) -> Iterator[Metric]:
        try:
            found = backlog(self.now)
        except DatabaseError:
            found = None
        up = 1 if found else 0
        yield GaugeMetricFamily("caseload_database_up", "1 if the database could be asked.", value=up)
        yield from gauges(found) if found else ()


def gauges(found: Backlog) -> Iterator[Metric]:
    yield of("notices_waiting", "Notices not sent, also those for a later day.", "channel", found.waiting)
    yield of("notices_due", "Notices that are due and not sent.", "channel", found.due)
    yield of("notices_oldest_due_seconds", "How long the oldest has been due.", "channel", found.oldest_due)
    yield of("jobs", "Long jobs; those that failed within a day.", "state", found.jobs)
    yield GaugeMetricFamily("caseload_jobs_oldest_waiting_seconds", "How long it has waited.", value=found.oldest_job)
    yield of("pulse_age_seconds", "Since a part of the background work was last alive.", "part", found.pulses)
    yield of("tick_overdue_seconds", "For how long a tick of the schedule has been due.", "tick", found.ticks)


def of(name: str, told: str, label: str, amounts: dict[str, int] | dict[str, float]) -> Metric:
    family = GaugeMetricFamily(f"caseload_{name}", told, labels=[label])
    for word, amount in amounts.items():
        family.add_metric([word], amount)
    return family
