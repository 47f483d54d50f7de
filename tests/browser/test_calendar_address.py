"""The private calendar address in a real browser: long as it is, a small screen shows it whole; axe reports nothing."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from tests.scenario import Fernhollow, fernhollow

pytestmark = pytest.mark.browser


@pytest.fixture
def clinic(transactional_db: None) -> Fernhollow:
    return fernhollow()


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (390, "dark")])
def test_a_new_address_is_shown_whole(page: Page, clinic: Fernhollow, sign_in, width: int, scheme):
    therapist = sign_in(page, clinic.therapist)
    therapist.set_viewport_size({"width": width, "height": 900})
    therapist.emulate_media(color_scheme=scheme)
    therapist.goto("/calendar-address/")
    therapist.get_by_role("button", name="Make an address").click()
    expect(therapist.locator("code")).to_contain_text("/feeds/")
    therapist.wait_for_load_state("load")  # the text may stand before the style does
    assert therapist.evaluate("document.documentElement.scrollWidth") == width
    assert Axe().run(therapist).violations_count == 0
