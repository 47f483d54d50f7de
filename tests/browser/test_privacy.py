"""What a lead does with a whole record, in a real browser: by keyboard, silent for axe, wide and narrow."""

from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Page, expect

from caseload.actions.jobs import run_due_jobs
from caseload.models import Patient
from tests.record.before import long_gone
from tests.scenario import Fernhollow

pytestmark = pytest.mark.browser


def silent(page: Page) -> None:
    for width, scheme in ((1280, "light"), (390, "dark")):
        page.set_viewport_size({"width": width, "height": 900})
        page.emulate_media(color_scheme=scheme)
        found = Axe().run(page)
        assert found.violations_count == 0, found.generate_report()
        assert page.evaluate("document.documentElement.scrollWidth") == width


def look_again(page: Page) -> None:
    """At a job that is asked for, once it has been carried out."""
    again = page.get_by_role("link", name="Look again")
    expect(again).to_be_visible()
    run_due_jobs(9)
    again.press("Enter")


def test_a_record_is_taken_away_kept_and_removed_by_keyboard_silent_for_axe(page: Page, clinic: Fernhollow, sign_in):
    since = timezone.localdate() - timedelta(days=9 * 366)
    kept, _ = long_gone(clinic, since), long_gone(clinic, since)
    sign_in(page, clinic.lead).goto(f"/patients/{kept.code}/")
    page.get_by_role("link", name="Take everything away").press("Enter")
    silent(page)
    page.get_by_label("What it is for").fill("asked by letter")
    page.get_by_label("I made sure").press("Space")
    page.get_by_role("button", name="Make the file").press("Enter")
    look_again(page)
    with page.expect_download() as file:
        page.get_by_role("link", name="Download patient-file.zip").press("Enter")
    assert file.value.suggested_filename == "patient-file.zip"
    page.goto(f"/patients/{kept.code}/keep/")
    page.get_by_label("Why it is kept").fill("legal claim")
    page.keyboard.press("Enter")
    page.get_by_role("link", name="Records whose time is over").press("Enter")
    silent(page)
    page.get_by_label("Type").fill("remove 1 record")
    page.keyboard.press("Enter")
    look_again(page)
    expect(page.locator("main")).to_contain_text("1 record was removed.")
    assert Patient.objects.get() == kept
