"""Need and room in a real browser: silent for axe, fitting a telephone, and a session tried out by keyboard alone."""

from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Page, expect

from caseload.models import Session
from tests.scenario import Fernhollow

pytestmark = pytest.mark.browser
SIDEWAYS = """() => [...document.querySelectorAll(".scroll")].filter(each => each.scrollWidth > each.clientWidth)
  .map(each => each.getAttribute("aria-label"))"""


@pytest.fixture
def lead(page: Page, clinic: Fernhollow, sign_in) -> Page:
    """Three due within days, and a session with one slot for them."""
    today = timezone.localdate()
    for days in (10, 11, 12):
        clinic.episode(surgery_on=today - timedelta(days=days), today=today, for_therapy=False)
    clinic.session(today + timedelta(days=3), start=540, end=560)
    return sign_in(page, clinic.lead)


def test_it_is_silent_for_axe_fits_a_telephone_and_tries_a_session_out_by_keyboard(lead: Page):
    lead.goto("/need/")
    for width, scheme in ((1280, "light"), (390, "dark")):
        lead.set_viewport_size({"width": width, "height": 900})
        lead.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        lead.evaluate("document.querySelectorAll('details').forEach(each => each.open = true)")
        assert Axe().run(lead).response["violations"] == []
        assert lead.evaluate("document.documentElement.scrollWidth") == width
        assert lead.evaluate(SIDEWAYS) == []
    held = Session.objects.count()
    lead.get_by_label("Day", exact=True).focus()
    lead.keyboard.type("+4")
    lead.keyboard.press("Enter")
    expect(lead.get_by_role("status")).to_contain_text("would place")
    assert Session.objects.count() == held
