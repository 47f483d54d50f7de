"""Filed months and the report in a real browser: filed by keyboard, silent for axe, narrow, and on paper."""

from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Page, expect

from caseload.actions import referrals
from caseload.waits.terms import Clock
from tests.record.made_waits import made
from tests.scenario import Fernhollow, by

pytestmark = pytest.mark.browser


@pytest.fixture
def lead(page: Page, clinic: Fernhollow, sign_in) -> Page:
    """Some first visits of the last months."""
    today = timezone.localdate()
    made(clinic, 60, since=today - timedelta(days=90), days=90, until=today, clocks=[Clock.FIRST_VISIT])
    return sign_in(page, clinic.lead)


def test_a_month_is_filed_by_keyboard_and_restated_silent_for_axe_wide_and_narrow(lead: Page, clinic: Fernhollow):
    lead.goto("/waits/months/")
    assert Axe().run(lead).violations_count == 0
    lead.get_by_role("button", name="File ").first.focus()
    lead.keyboard.press("Enter")
    expect(lead.locator("main")).to_contain_text("Nothing moved.")
    late = timezone.localdate().replace(day=1) - timedelta(days=3)
    referrals.add(clinic.patient(), by=by(clinic.admin, timezone.localdate()), received_on=late, source="hand surgery")
    lead.reload()
    expect(lead.locator("#moved")).to_be_visible()
    lead.set_viewport_size({"width": 390, "height": 900})
    lead.emulate_media(color_scheme="dark")
    found = Axe().run(lead)
    assert found.violations_count == 0, found.generate_report()
    assert lead.evaluate("document.documentElement.scrollWidth") == 390


def test_the_report_on_paper_has_its_head_and_no_menu_and_is_silent_for_axe(lead: Page):
    lead.goto("/waits/report/?clock=first-visit")
    found = Axe().run(lead)
    assert found.violations_count == 0, found.generate_report()
    lead.emulate_media(media="print")
    expect(lead.locator(".running")).to_be_visible()
    expect(lead.locator(".mast nav")).to_be_hidden()
    assert lead.locator("details:not([open])").count() == 0
