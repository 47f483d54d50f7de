"""The notices in a real browser: silent for axe, narrow, rung by keyboard, and a batch of letters on paper."""

import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from typing import Literal

import pytest
import time_machine
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from caseload.models import Contact, Notice
from tests.record.before import missed_twice
from tests.scenario import TODAY, Fernhollow, by, fernhollow

pytestmark = pytest.mark.browser

YESTERDAY = TODAY - timedelta(days=1)
HOME = "4 Alder Row\nFernhollow\nFH1 2AB"


@pytest.fixture(autouse=True)
def that_morning() -> Iterator[None]:
    """The server answers from threads of this process, so its clock can be set here."""
    with time_machine.travel(datetime(TODAY.year, TODAY.month, TODAY.day, 10, tzinfo=UTC)):
        yield


@pytest.fixture
def admin(page: Page, transactional_db: None, sign_in) -> Page:
    """Two to ring, three letters to print, one letter to a referrer that is proposed."""
    clinic = fernhollow()
    for phone in ("07700 900118", ""):
        row = clinic.episode(clinic.patient(phone=phone), today=YESTERDAY).follow_ups.get(key="stitches-out")
        clinic.book([row], date(2026, 4, 7), today=YESTERDAY)
    Notice.objects.filter(kind="days-before").update(due_at=by().at - timedelta(hours=1))
    for _ in range(3):
        told_by_letter(clinic)
    missed_twice(clinic)
    return sign_in(page, clinic.admin)


def told_by_letter(clinic: Fernhollow) -> None:
    row = clinic.episode(clinic.patient(postal_address=HOME), today=YESTERDAY).follow_ups.get(key="outcome-review")
    clinic.book([row], row.earliest_on + timedelta(days=4), today=YESTERDAY, told="untold")


def sheets(page: Page) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", page.pdf(prefer_css_page_size=True)))


def test_whom_to_ring_is_recorded_by_keyboard(admin: Page):
    admin.goto("/notices/")
    admin.get_by_role("button", name="No answer").first.focus()
    admin.keyboard.press("Enter")
    expect(admin.get_by_text("tried once")).to_be_visible()
    expect(admin.get_by_text("no telephone number")).to_be_visible()
    assert Contact.objects.get().reached == "no-answer"


def test_a_batch_prints_its_cover_list_and_each_letter_on_its_own_sheet(admin: Page):
    admin.goto("/notices/")
    admin.get_by_role("button", name="Make a print batch").click()
    expect(admin.get_by_role("article")).to_have_count(3)
    assert sheets(admin) == 4
    notice = Notice.objects.filter(channel="letter").first()
    Notice.objects.filter(pk=notice.pk).update(state="withdrawn", withdrawn_at=by().at)
    admin.reload()
    expect(admin.get_by_text("take out")).to_be_visible()
    assert sheets(admin) == 3
    quiet(admin, 390, "light")
    admin.emulate_media(media="print")
    where = admin.locator("address").first.bounding_box()
    header = admin.locator(".letter header").first.bounding_box()
    assert where and header and round((where["y"] - header["y"]) / 96 * 25.4) == 35, "50 mm with the margin of 15"
    admin.emulate_media(media="screen")
    admin.get_by_role("button", name="Posted", exact=True).click()
    expect(admin.get_by_text("posted Wed 1 Apr 2026").first).to_be_visible()


def test_every_page_is_silent_for_axe_and_fits_a_telephone(admin: Page):
    admin.goto("/notices/")
    quiet(admin, 1280, "light")
    letter = admin.get_by_role("link", name="Read the letter").get_attribute("href")
    call = admin.get_by_role("link", name="With a note").first.get_attribute("href")
    notice = f"/notices/{Notice.objects.filter(channel='letter')[0].code}/"
    for address in ("/notices/", letter, call, notice):
        admin.goto(address or "")
        quiet(admin, 390, "dark")


def quiet(page: Page, width: int, scheme: Literal["light", "dark"]) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    page.emulate_media(color_scheme=scheme)
    assert Axe().run(page).response["violations"] == []
    assert page.evaluate("document.documentElement.scrollWidth") <= width
