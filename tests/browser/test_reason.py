"""The question for a reason in a real browser: by keyboard alone, on a small dark screen; axe reports nothing."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from caseload.models import Staff
from tests.scenario import Fernhollow

pytestmark = pytest.mark.browser


def test_a_colleagues_record_opens_by_keyboard(page: Page, clinic: Fernhollow, sign_in):
    others = clinic.episode(therapist=Staff.objects.create(username="colin", name="Colin Marsh", is_therapist=True))
    therapist = sign_in(page, clinic.therapist)
    therapist.set_viewport_size({"width": 390, "height": 900})
    therapist.emulate_media(color_scheme="dark")
    therapist.goto(f"/episodes/{others.code}/")
    assert therapist.evaluate("document.documentElement.scrollWidth") == 390
    assert Axe().run(therapist).violations_count == 0
    therapist.get_by_label("Why you need it").focus()
    therapist.keyboard.type("On call tonight")
    therapist.keyboard.press("Enter")
    expect(therapist.get_by_text("open to you for twelve hours")).to_be_visible()
    assert therapist.url.endswith(f"/episodes/{others.code}/")
