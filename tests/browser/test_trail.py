"""The trail in a real browser: silent for axe, fitting a telephone, filtered by keyboard alone."""

from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Page, expect

from caseload.models import TrailEntry
from tests.scenario import Fernhollow

pytestmark = pytest.mark.browser


@pytest.fixture
def lead(page: Page, clinic: Fernhollow, sign_in) -> Page:
    """Two pages of acts, one of them with a reason and one by the planner itself."""
    now, patient = timezone.now(), clinic.episode().patient
    TrailEntry.objects.bulk_create(
        TrailEntry(
            at=now - timedelta(minutes=minute), by=clinic.therapist if minute % 9 else None, act="patient.open",
            patient=patient, origin="192.0.2.7" if minute % 9 else "background", why="on call" if minute == 1 else "",
            changed={"surgery_on": ["2026-03-20", "2026-03-23"]},
        )
        for minute in range(60)
    )  # fmt: skip
    return sign_in(page, clinic.lead)


def test_it_is_silent_for_axe_fits_a_telephone_and_is_filtered_by_keyboard(lead: Page):
    lead.goto("/trail/")
    for width, scheme in ((1280, "light"), (390, "dark")):
        lead.set_viewport_size({"width": width, "height": 900})
        lead.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
        lead.evaluate("document.querySelector('details').open = true")
        assert Axe().run(lead).response["violations"] == []
        assert lead.evaluate("document.documentElement.scrollWidth") == width
    lead.get_by_label("What", exact=True).focus()
    lead.keyboard.type("only with")
    lead.keyboard.press("Tab")
    lead.get_by_role("button", name="Show").press("Enter")
    expect(lead.get_by_role("row")).to_have_count(2)
