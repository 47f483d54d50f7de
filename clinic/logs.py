"""What a log line says: the name of a route, never a path, a query or a name; of a fault where, not with what.

One line for each request. Lines are JSON or plain (CASELOAD_LOG_FORMAT), the same from the web server, Celery and
`background`. The words of an exception may quote a row, so only those of the exceptions named in SPEAKING are kept.
"""

import json
import logging
from collections.abc import Callable, Iterator, MutableMapping
from typing import Any

from django.http import HttpRequest
from structlog import contextvars, processors, stdlib
from structlog.tracebacks import ExceptionDictTransformer

FIELDS = ("route", "method", "status", "ms")
"""What a line may hold beside its words."""
SPEAKING = frozenset(
    {"AttributeError", "ImportError", "ImproperlyConfigured", "InterfaceError", "ModuleNotFoundError", "NameError",
     "NotImplementedError", "OSError", "OperationalError", "TemplateDoesNotExist", "TimeoutError"}
)  # fmt: skip
"""Exceptions whose words name parts of the program or of a connection, and no value of a row or a form."""
UNREADABLE = {
    "Error handling request": "A request could not be answered",
    "Invalid request from": "A request could not be read",
}
"""What gunicorn says with the address of the request, and what is said instead."""

Event = MutableMapping[str, Any]
frames_of = ExceptionDictTransformer(show_locals=False, max_frames=40)


class Discreet(logging.Filter):
    """Takes the path of a request, and the words of an exception, out of the lines of Django, Celery and gunicorn."""

    def __init__(self, route_of: Callable[[HttpRequest], str]) -> None:
        super().__init__()
        self.route_of = route_of

    def filter(self, record: logging.LogRecord) -> bool:
        request = getattr(record, "request", None)
        route = {}
        if isinstance(request, HttpRequest):
            route = dict.fromkeys((request.path, request.get_full_path()), self.route_of(request))
        if isinstance(record.args, tuple):
            record.args = tuple(kind(part) or routed(part, route) for part in record.args)
        elif isinstance(record.args, dict) and "exc" in record.args:
            record.args = {**record.args, "exc": kind(record.exc_info[1]) if record.exc_info else "an exception"}
        if record.name == "gunicorn.error":
            for words, instead in UNREADABLE.items():
                if str(record.msg).startswith(words):
                    record.msg, record.args = instead, ()
        return True


def kind(part: object) -> str:
    return type(part).__name__ if isinstance(part, BaseException) else ""


def routed(part: object, route: dict[str, str]) -> object:
    return route.get(part, part) if isinstance(part, str) else part


def where_it_broke(_: Any, __: str, event: Event) -> Event:
    """The exception as values: kinds, and the lines of the program, without local variables."""
    exc_info = event.pop("exc_info", None)
    if exc_info:
        event["exception"] = [broken for trace in frames_of(exc_info) for broken in told(trace)]
    return event


def told(trace: dict[str, Any]) -> Iterator[dict[str, Any]]:
    says = trace["exc_value"] if trace["exc_type"] in SPEAKING else ""
    frames = [f"{frame['filename']}:{frame['lineno']} {frame['name']}" for frame in trace["frames"]]
    yield {"kind": trace["exc_type"], "says": says, "frames": frames}
    for group in trace["exceptions"] or ():
        for inner in group:
            yield from told(inner)


def as_json(_: Any, __: str, event: Event) -> str:
    return json.dumps(event, default=repr, ensure_ascii=False)


def as_plain(_: Any, __: str, event: Event) -> str:
    """`2026-04-01T09:00:00.000Z info caseload.requests: answered route=today …`, and an exception below it."""
    first = (event.pop(name) for name in ("timestamp", "level", "logger", "event"))
    broken = event.pop("exception", [])
    line = "{} {} {}: {}".format(*first).replace("\n", "\\n")
    lines = [" ".join((line, *(f"{name}={value}" for name, value in event.items())))]
    for one in broken:
        lines += [f"  {one['kind']} {one['says']}".rstrip(), *(f"    {frame}" for frame in one["frames"])]
    return "\n".join(lines)


def formatter(shape: str) -> logging.Formatter:
    """The one formatter of every process: `shape` is json or plain."""
    return stdlib.ProcessorFormatter(
        foreign_pre_chain=[
            processors.TimeStamper(fmt="iso", utc=True),
            stdlib.add_log_level,
            stdlib.add_logger_name,
            contextvars.merge_contextvars,
            stdlib.ExtraAdder(allow=FIELDS),
        ],
        processors=[
            stdlib.ProcessorFormatter.remove_processors_meta,
            where_it_broke,
            as_json if shape == "json" else as_plain,
        ],
    )
