"""The intake in a real browser: a dirty list uploaded, answered, taken in; silent for axe, narrow, without script."""

from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Browser, Page, expect

from caseload.actions import confirming, intake
from caseload.actions.act import By
from caseload.models import Episode, Patient
from tests.intake.conftest import listing, said
from tests.kept import built_once
from tests.scenario import Fernhollow, fernhollow

pytestmark = pytest.mark.browser

DIRTY = Path(__file__).resolve().parents[2] / "fixtures" / "theatre_lists" / "dirty.csv"
KEMBLE = {"nhs_number": "", "telephone": "", "surname": "Kemble", "first_name": "Keith", "date_of_birth": "1950-11-12"}


@pytest.fixture
def clinic(transactional_db: None) -> Fernhollow:
    return built_once(one_on_record)


def one_on_record() -> Fernhollow:
    """One patient on record who looks like one of the list."""
    clinic, now = fernhollow(), timezone.now()
    by = By(clinic.admin, now, timezone.localdate(now))
    batch = intake.upload(listing(said(**KEMBLE)), file_name="march.csv", by=by)
    confirming.confirm(batch, by=by, version=None)
    return clinic


@pytest.fixture
def admin(page: Page, clinic: Fernhollow, sign_in) -> Page:
    return sign_in(page, clinic.admin)


def upload(page: Page) -> str:
    """The address of the dirty list once it is read."""
    page.goto("/intake/")
    page.get_by_label("File").set_input_files(DIRTY)
    page.get_by_label("Site of rows that name none").select_option(label="Fernhollow")
    page.get_by_role("button", name="Read the list").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("dirty.csv")
    return page.url


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (390, "dark")])
def test_axe_reports_nothing_and_nothing_runs_over_the_edge(admin: Page, width: int, scheme):
    admin.set_viewport_size({"width": width, "height": 900})
    admin.emulate_media(color_scheme=scheme)
    own = upload(admin)
    for address in ("/intake/", own, f"{own}?verdict=doubtful", f"{own}?verdict=refused", f"{own}columns/"):
        admin.goto(address)
        found = Axe().run(admin)
        assert found.violations_count == 0, f"{address}: {found.generate_report()}"
        assert admin.evaluate("document.documentElement.scrollWidth") == width, address


def test_a_small_telephone_shows_every_row_whole(admin: Page):
    admin.set_viewport_size({"width": 360, "height": 740})
    own = upload(admin)
    for address in (own, f"{own}?verdict=doubtful", f"{own}columns/"):
        admin.goto(address)
        assert admin.evaluate("document.documentElement.scrollWidth") == 360, address


def test_a_look_alike_stands_beside_the_row_is_chosen_and_taken_in(admin: Page):
    own = upload(admin)
    admin.goto(f"{own}?verdict=doubtful")
    row = admin.locator("#row-40")
    expect(row.get_by_role("columnheader", name="KEMBLE, Keith, on record")).to_be_visible()
    row.get_by_label("The same person as KEMBLE, Keith").check()
    admin.get_by_role("button", name="Keep these answers").click()
    expect(admin.get_by_role("status")).to_contain_text("1 to take in")
    admin.get_by_role("button", name="Take in 2 rows").click()
    expect(admin.get_by_role("status")).to_contain_text("The list is taken in")
    assert Patient.objects.count() == 2
    assert Episode.objects.filter(patient__family="Kemble").count() == 2


def test_everything_is_done_by_keyboard(admin: Page):
    own = upload(admin)
    admin.goto(f"{own}?verdict=doubtful")
    admin.locator("#row-40 input[type=radio]").first.focus()
    admin.keyboard.press("ArrowDown")
    expect(admin.get_by_label("The same person as KEMBLE, Keith").first).to_be_checked()
    admin.get_by_role("button", name="Keep these answers").focus()
    admin.keyboard.press("Enter")
    admin.get_by_role("button", name="Take in 2 rows").focus()
    admin.keyboard.press("Enter")
    expect(admin.get_by_role("status")).to_contain_text("The list is taken in")


def test_the_rows_left_out_come_back_as_a_file(admin: Page):
    upload(admin)
    with admin.expect_download() as download:
        admin.get_by_role("button", name="left out, as a file").click()
    text = Path(download.value.path()).read_text("utf-8-sig")
    assert "Reason refused" in text.splitlines()[0]
    assert "4/13/2026" in text


def test_it_all_works_without_script(chromium: Browser, clinic: Fernhollow, live_server, sign_in):
    context = chromium.new_context(base_url=live_server.url, java_script_enabled=False)
    page = sign_in(context.new_page(), clinic.lead)
    upload(page)
    page.get_by_role("button", name="Take in 1 row").click()
    expect(page.get_by_role("link", name="Open the episode: ring finger")).to_be_visible()
    context.close()
