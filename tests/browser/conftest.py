"""A real Chromium from the system; nothing is downloaded, and it may talk to the server under test only."""

import os
import shutil
from collections.abc import Callable, Iterator
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Browser, Page, Request, sync_playwright

from caseload.models import Region, Staff
from tests.kept import built_once
from tests.scenario import Fernhollow, fernhollow
from tests.signed_in import session_of

FLAGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-software-rasterizer",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE localhost",
]


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    # The driver keeps an event loop in this thread, in which Django would otherwise refuse its database calls.
    os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def page(chromium: Browser, live_server) -> Iterator[Page]:
    """A page of a fresh browser profile; addresses are relative to the server under test."""
    context = chromium.new_context(base_url=live_server.url, locale="en-GB", timezone_id="Europe/London")
    context.set_default_timeout(15_000)
    outside: list[str] = []

    def note(request: Request) -> None:
        if not request.url.startswith((live_server.url, "data:", "blob:")):
            outside.append(request.url)

    context.on("request", note)
    yield context.new_page()
    context.close()
    assert outside == [], "a page asked for something from outside"


@pytest.fixture
def sign_in(live_server) -> Callable[[Page, Staff], Page]:
    """Sign somebody in without the form: hashing a password costs more than most of these tests."""

    def signed_in(page: Page, staff: Staff) -> Page:
        page.context.add_cookies([{"name": "session", "value": session_of(staff), "url": live_server.url}])
        return page

    return signed_in


@pytest.fixture
def clinic(transactional_db: None) -> Fernhollow:
    return built_once(smallest)


def smallest() -> Fernhollow:
    """The smallest Fernhollow on the real day, whose holidays are known for a year to come."""
    clinic = fernhollow()
    Region.objects.update(covered_until=timezone.localdate() + timedelta(days=400))
    return clinic
