"""The waits in a real browser: silent for axe, no wider than the screen, by keyboard, and without script."""

from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Browser, Page, expect

from caseload.waits.terms import Clock
from tests.record.made_waits import made
from tests.scenario import Fernhollow

pytestmark = pytest.mark.browser

STITCHES = "/waits/?clock=stitches-out&period=last-3&by=month"
ALL = {"resultTypes": ["violations"]}
COLOURS = ALL | {"runOnly": ["color-contrast"]}
OPEN_ALL = "document.querySelectorAll('details').forEach(each => each.open = true)"


@pytest.fixture
def lead(page: Page, clinic: Fernhollow, sign_in) -> Page:
    """Two hundred waits of both clocks over some months, of two sites and several surgeons."""
    today = timezone.localdate()
    own = {"until": today, "clocks": (Clock.FIRST_VISIT, Clock.STITCHES_OUT)}
    made(clinic, 200, since=today - timedelta(days=180), days=180, **own)
    return sign_in(page, clinic.lead)


def test_axe_reports_nothing_and_nothing_runs_over_the_edge_light_or_dark_wide_or_narrow(lead: Page):
    said: list[str] = []
    lead.on("console", lambda message: said.append(message.text))
    lead.goto(STITCHES)
    lead.evaluate(OPEN_ALL)
    for width, scheme, rules in (
        (1280, "light", ALL),
        (1280, "dark", COLOURS),
        (390, "dark", ALL),
        (390, "light", COLOURS),
    ):
        lead.set_viewport_size({"width": width, "height": 900})
        lead.emulate_media(color_scheme=scheme)
        found = Axe().run(lead, options=rules)
        assert found.violations_count == 0, f"{width} {scheme}: {found.generate_report()}"
        assert lead.evaluate("document.documentElement.scrollWidth") == width
    assert said == []


def test_by_keyboard_the_curve_opens_its_numbers_and_a_number_its_patients(lead: Page):
    lead.goto(STITCHES)
    lead.locator("summary").first.focus()
    lead.keyboard.press("Enter")
    expect(lead.get_by_role("columnheader", name="Watched")).to_be_visible()
    lead.locator(".sum a").last.focus()
    lead.keyboard.press("Enter")
    lead.wait_for_url("**/waits/patients/**which=waiting**")
    expect(lead.locator("h1")).to_be_visible()
    assert Axe().run(lead).violations_count == 0
    lead.set_viewport_size({"width": 390, "height": 900})
    assert lead.evaluate("document.documentElement.scrollWidth") == 390


def test_the_waits_work_without_script(lead: Page, chromium: Browser, live_server, clinic: Fernhollow, sign_in):
    context = chromium.new_context(base_url=live_server.url, java_script_enabled=False)
    page = sign_in(context.new_page(), clinic.lead)
    page.goto("/waits/")
    page.locator("select[name=clock]").select_option("stitches-out")
    page.locator("select[name=by]").select_option("month")
    page.locator(".filters button").click()
    assert "clock=stitches-out" in page.url and "by=month" in page.url
    expect(page.get_by_role("heading", name="Stitches out against their window")).to_be_visible()
    page.locator("summary").last.click()
    expect(page.get_by_role("rowheader", name="target day").first).to_be_visible()
    context.close()
