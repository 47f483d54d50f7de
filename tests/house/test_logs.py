"""What stands in the log: routes and durations; never a path, a query, what was typed or what an exception quotes."""

import json
import logging
from collections.abc import Callable
from logging.config import dictConfig

import pytest
from django.conf import settings as live
from django.http import HttpRequest, HttpResponse
from django.test import Client, RequestFactory
from django.urls import resolve

from caseload.web.answered import request_line, route_of
from caseload.web.views import patient
from clinic.logs import Discreet, formatter
from tests.scenario import fernhollow
from tests.signed_in import session_of

CODE, TYPED = "k3v9q7hx2m4p", "Ottoline Quillfeather"


class Kept(logging.Handler):
    """Keeps each line as a process would have written it."""

    def __init__(self, shape: str) -> None:
        super().__init__()
        self.setFormatter(formatter(shape))
        self.addFilter(Discreet(route_of))
        self.lines: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.lines.append(self.format(record))

    def values(self) -> list[dict]:
        return [json.loads(line) for line in self.lines]


@pytest.fixture
def kept():
    """The lines of the root logger, from every level up."""
    handler, root = Kept("json"), logging.getLogger()
    level = root.level
    root.addHandler(handler)
    root.setLevel(logging.DEBUG)
    yield handler
    root.removeHandler(handler)
    root.setLevel(level)


def answered(path: str, inner: Callable[[HttpRequest], HttpResponse], **sent) -> HttpResponse:
    request = RequestFactory(**sent).get(path)
    request.resolver_match = resolve(request.path)
    return request_line(inner)(request)


def test_a_request_is_one_line_with_its_route_and_no_path(kept):
    answered(f"/patients/{CODE}/?q={TYPED}", lambda request: HttpResponse(status=204))
    (line,) = kept.values()
    assert (line["route"], line["method"], line["status"]) == ("patient", "GET", 204)
    assert line["ms"] >= 0 and CODE not in kept.lines[0] and "Quillfeather" not in kept.lines[0]


def test_a_request_has_a_name_of_our_own_that_each_of_its_lines_carries(kept):
    def view(request: HttpRequest) -> HttpResponse:
        logging.getLogger("caseload.anything").info("inside")
        return HttpResponse()

    names = {answered("/help/", view, HTTP_X_REQUEST_ID="forged")["X-Request-ID"] for _ in range(2)}
    assert len(names) == 2 and "forged" not in names
    assert [line["request"] for line in kept.values() if line["event"] == "inside"] == [
        line["request"] for line in kept.values() if line["event"] == "answered"
    ]
    logging.getLogger("caseload.anything").info("outside")
    assert "request" not in kept.values()[-1]


def test_what_is_static_is_not_told(client, kept):
    client.get("/static/app.css")
    assert kept.lines == []


def test_nothing_that_was_typed_or_quoted_is_left_in_the_log(db, kept, monkeypatch):
    def fail(*_, **__):
        hidden = TYPED
        raise ValueError(f"duplicate key (family)=({hidden})")

    client = Client(raise_request_exception=False)
    client.cookies["session"] = session_of(fernhollow().lead)
    monkeypatch.setattr(patient, "patient_at", fail)
    assert client.get(f"/patients/{CODE}/").status_code == 500
    client.post("/search/", {"text": TYPED})
    client.get(f"/nowhere/{CODE}/", {"q": TYPED})
    told = kept.values()
    assert [line["route"] for line in told if line["event"] == "answered"] == ["patient", "search", "unknown"]
    assert not any(word in json.dumps(told) for word in (CODE, TYPED, "Quillfeather", "lena"))


def test_an_exception_is_told_by_its_kind_and_place_and_speaks_only_if_it_quotes_nothing(kept):
    try:
        try:
            int(TYPED)
        except ValueError as error:
            raise OSError(28, "No space left on device") from error
    except OSError:
        logging.getLogger("caseload.jobs").exception("A job failed")
    (line,) = kept.values()
    disk, number = line["exception"]
    assert (disk["kind"], disk["says"]) == ("OSError", "[Errno 28] No space left on device")
    assert (number["kind"], number["says"]) == ("ValueError", "") and "test_logs.py" in number["frames"][0]
    assert TYPED not in kept.lines[0]


def test_an_exception_group_is_told_one_by_one(kept):
    try:
        raise ExceptionGroup(TYPED, [ValueError(TYPED), OSError("refused")])
    except ExceptionGroup:
        logging.getLogger("caseload.jobs").exception("Some failed")
    assert [(one["kind"], one["says"]) for one in kept.values()[0]["exception"]] == [
        ("ExceptionGroup", ""), ("ValueError", ""), ("OSError", "refused"),
    ]  # fmt: skip


def said(name: str, words: str, *args: object, **more: object) -> str:
    record = logging.LogRecord(name, logging.ERROR, "", 0, words, args, None)
    vars(record).update(more)
    Discreet(route_of).filter(record)
    return record.getMessage()


def test_django_names_the_route_where_it_would_name_the_path():
    request = RequestFactory().get(f"/patients/{CODE}/?q=x")
    assert said("django.security.csrf", "Forbidden (%s): %s", "no cookie", request.path, request=request) == (
        "Forbidden (no cookie): unknown"
    )
    request.resolver_match = resolve(request.path)
    assert said("django.request", "Gone: %s", request.get_full_path(), request=request) == "Gone: patient"


def test_celery_names_the_kind_of_an_exception_and_not_its_words():
    context = {"name": "caseload.tasks.run_job", "id": "1", "description": "raised unexpected", "exc": TYPED}
    told = said("celery.app.trace", "Task %(name)s[%(id)s] %(description)s: %(exc)s", context)
    assert TYPED not in told and "caseload.tasks.run_job" in told
    assert said("celery.worker", "Task handler raised error: %r", ValueError(TYPED)).endswith("'ValueError'")


@pytest.mark.parametrize(
    ("words", "args"),
    [("Error handling request %s", (f"/patients/{CODE}/",)), (f"Invalid request from ip=x: GET /{CODE}", ())],
)
def test_gunicorn_says_no_address(words, args):
    assert CODE not in said("gunicorn.error", words, *args)


def test_a_plain_line_is_one_line_and_its_exception_stands_below_it():
    handler = Kept("plain")
    record = logging.LogRecord("caseload.x", logging.INFO, "", 0, "two\nlines", (), None)
    record.ms = 7
    handler.handle(record)
    assert handler.lines[0].endswith("Z info caseload.x: two\\nlines ms=7")
    try:
        raise ConnectionError(TYPED)
    except ConnectionError as error:
        record.exc_info = (type(error), error, error.__traceback__)
    handler.handle(record)
    first, kind, place = handler.lines[1].splitlines()
    assert kind == "  ConnectionError" and "test_logs.py" in place


def test_the_settings_of_the_log_can_be_carried_out_and_bring_gunicorn_and_celery_to_the_same_place():
    loggers = {name: logging.getLogger(name) for name in ("gunicorn.error", "celery", "caseload.requests")}
    dictConfig(live.LOGGING)
    assert all(logger.propagate and not logger.handlers for logger in loggers.values())
    (stderr,) = [each for each in logging.getLogger().handlers if type(each) is logging.StreamHandler]
    assert any(isinstance(each, Discreet) for each in stderr.filters)
