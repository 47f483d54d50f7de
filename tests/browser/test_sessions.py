"""People and sessions in a real browser: silent for axe, narrow, and a week saved without a mouse or script."""

from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Browser, Page, expect

from caseload.actions import absences, service, weeks
from caseload.models import Region, WeeklySession
from tests.kept import built_once
from tests.scenario import Fernhollow, by, fernhollow

pytestmark = pytest.mark.browser


@pytest.fixture
def clinic(transactional_db: None) -> Fernhollow:
    return built_once(three_a_week)


def three_a_week() -> Fernhollow:
    """Three sessions a week, one of them away for a week, and a holiday list that ends soon."""
    clinic, today = fernhollow(), timezone.localdate()
    Region.objects.update(covered_until=today + timedelta(days=300))
    held = {"therapist": clinic.therapist, "site": clinic.site, "from_on": today}
    for weekday in (0, 2, 4):
        weeks.save_week(by=by(clinic.lead, today), weekday=weekday, start=540, end=740, **held)
    week = {"starts_on": today + timedelta(days=3), "ends_on": today + timedelta(days=10)}
    absences.add_absence(by=by(clinic.lead, today), therapist=clinic.therapist, reason="leave", **week)
    later = today + timedelta(days=20)
    service.add_closure(by=by(clinic.lead, today), site=None, starts_on=later, ends_on=later, reason="training")
    return clinic


@pytest.fixture
def lead(page: Page, clinic: Fernhollow, sign_in) -> Page:
    return sign_in(page, clinic.lead)


def addresses() -> list[str]:
    week = f"/weeks/{WeeklySession.objects.all()[0].code}/"
    forms = ["/weeks/new/", "/sessions/new/", "/absences/new/", "/closures/new/"]
    return ["/sessions/", week, f"{week}change/", f"{week}end/", *forms]


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (390, "dark")])
def test_axe_reports_nothing_and_nothing_runs_over_the_edge(lead: Page, width: int, scheme):
    lead.set_viewport_size({"width": width, "height": 900})
    lead.emulate_media(color_scheme=scheme)
    for address in addresses():
        lead.goto(address)
        found = Axe().run(lead)
        assert found.violations_count == 0, f"{address}: {found.generate_report()}"
        assert lead.evaluate("document.documentElement.scrollWidth") == width, address


def test_a_week_is_saved_by_keyboard_once_its_empty_windows_were_read(lead: Page, clinic: Fernhollow):
    lead.goto("/weeks/new/")
    lead.locator("[name=therapist]").focus()
    for keys in ("Thea", "Fern", "Tues"):
        lead.keyboard.type(keys)
        lead.keyboard.press("Tab")
    for keys in ("13", "16"):
        lead.keyboard.type(keys)
        lead.keyboard.press("Tab")
    lead.keyboard.press("Enter")
    if lead.get_by_role("button", name="all the same").count():
        lead.locator("button[name=sure]").focus()
        lead.keyboard.press("Enter")
    expect(lead.get_by_role("heading", name="Tuesdays, 13:00 to 16:00, at Fernhollow")).to_be_visible()


def test_an_absence_is_noted_without_script(chromium: Browser, live_server, clinic: Fernhollow, sign_in):
    context = chromium.new_context(base_url=live_server.url, java_script_enabled=False)
    page = sign_in(context.new_page(), clinic.lead)
    page.goto("/absences/new/")
    page.select_option("[name=therapist]", clinic.therapist.code)
    page.fill("[name=starts_on]", "+30")
    page.fill("[name=ends_on]", "+37")
    page.fill("[name=reason]", "course")
    page.get_by_role("button", name="Add the absence").click()
    page.get_by_role("button", name="Add the absence all the same").click()
    expect(page.get_by_text("nobody covers").last).to_be_visible()
    context.close()
