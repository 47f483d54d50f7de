"""What stands where while pages are walked: the log, arguments of processes, files, as a process leaves them."""

import logging
import re
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from io import StringIO
from pathlib import Path
from typing import Any
from unittest import mock

from django.conf import settings
from django.http import HttpResponse

from caseload.web.answered import route_of
from clinic.logs import Discreet, formatter
from tests.planted import found_in

LINKS = re.compile(r'\s(?:href|src|action|formaction|hx-[a-z]+|data-to)="([^"]*)"')
TITLE = re.compile(r"<title>([^<]*)</title>")
OUTSIDE = ("tel:", "mailto:")
"""What a telephone or a mail program is given: no address of ours."""
CALM = (400, 403, 404, 405, 413, 500, 503)


@dataclass
class Seen:
    """`urls` are all links, forms and redirects; `faults` the pages that say why nothing could be shown; `sessions`
    what each says to whoever has its row only, and to whoever has the key too.
    """

    urls: set[str] = field(default_factory=set)
    titles: set[str] = field(default_factory=set)
    headers: set[str] = field(default_factory=set)
    faults: dict[int, str] = field(default_factory=dict)
    statuses: dict[str, int] = field(default_factory=dict)
    calendars: str = ""
    named: int = 0
    log: str = ""
    said: str = ""
    subjects: list[str] = field(default_factory=list)
    metrics: str = ""
    tables: dict[str, set[str]] = field(default_factory=dict)
    sessions: list[tuple[str, str]] = field(default_factory=list)
    arguments: str = ""
    left: list[str] = field(default_factory=list)

    def take(self, answer: HttpResponse, name: str = "") -> HttpResponse:
        self.statuses[name or answer.request["PATH_INFO"]] = answer.status_code
        self.headers |= {f"{key}: {value}" for key, value in answer.items()} | {str(answer.cookies)}
        kind = answer.headers.get("Content-Type", "")
        text = "" if answer.streaming else answer.content.decode("utf-8", "replace")
        if answer.status_code in CALM:
            self.faults[answer.status_code] = self.faults.get(answer.status_code, "") + text
        if kind.startswith("text/calendar"):
            self.calendars += text
        if kind.startswith("text/html"):
            self.urls |= {url for url in LINKS.findall(text) if not url.startswith(OUTSIDE)}
            self.titles |= set(TITLE.findall(text))
            self.named += bool(found_in(text))
        self.urls.add(answer.headers.get("Location", ""))
        return answer


@contextmanager
def listening(seen: Seen) -> Iterator[None]:
    """The log as a process writes it, the arguments of processes, and what is left in folders for a while."""
    lines, handler = StringIO(), logging.StreamHandler()
    handler.setStream(lines)
    handler.setFormatter(formatter("json"))
    handler.addFilter(Discreet(route_of))
    started = subprocess.Popen.__init__

    def start(self: Any, args: Any, *rest: Any, **how: Any) -> None:
        seen.arguments += f"{args}\n"
        started(self, args, *rest, **how)

    root, began = logging.getLogger(), time.time() - 1
    with ExitStack() as stack:
        folder = stack.enter_context(tempfile.TemporaryDirectory(prefix="marked-"))
        stack.enter_context(mock.patch.object(tempfile, "tempdir", folder))
        stack.enter_context(mock.patch.object(subprocess.Popen, "__init__", start))
        root.addHandler(handler)
        stack.callback(root.removeHandler, handler)
        yield
        seen.left = [str(path) for path in Path(folder).rglob("*")] + changed_since(began)
    seen.log = lines.getvalue()


def changed_since(began: float) -> list[str]:
    """Files of the data folder that were written meanwhile, hold a mark and are not the database."""
    files = (path for path in Path(settings.DATA_FOLDER).rglob("*") if path.is_file() and "sqlite" not in path.name)
    return [str(path) for path in files if path.stat().st_mtime >= began and found_in(path.read_bytes())]
