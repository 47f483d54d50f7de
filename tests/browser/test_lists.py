"""The pages that list, in a real browser: silent for axe, narrow, by keyboard, on paper, light, and without script."""

import gzip
from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Browser, Page, Response, expect

from caseload.models import Region, Staff
from tests.kept import built_once
from tests.scenario import Fernhollow, fernhollow

pytestmark = pytest.mark.browser

PAGES = (
    "/today/", "/caseload/", "/to-book/", "/diary/", "/fill/", "/rehousing/", "/overdue/", "/search/", "/rules/",
    "/help/", "/nowhere/",
)  # fmt: skip
FIRST_LOAD = 90 * 1024
NEEDED_BY_CHOICES = """() => [...document.querySelectorAll(".filters select")].map((select) => {
  const shown = select.offsetWidth;
  Object.assign(select.style, { width: "max-content", maxWidth: "none" });
  const needed = select.offsetWidth;
  Object.assign(select.style, { width: "", maxWidth: "" });
  return [select.name, shown, needed];
})"""
PARTED_DATES = """() => {
  const found = [], texts = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT);
  while (texts.nextNode()) {
    const text = texts.currentNode;
    if (!text.parentElement.checkVisibility() || text.parentElement.closest("svg, select, .unseen")) continue;
    for (const date of text.data.matchAll(/[A-Z][a-z]{2} \\d{1,2} [A-Z][a-z]{2} \\d{4}/g)) {
      const range = document.createRange();
      range.setStart(text, date.index);
      range.setEnd(text, date.index + date[0].length);
      const lines = new Set([...range.getClientRects()].map((part) => Math.round(part.top)));
      if (lines.size > 1) found.push(text.data.trim());
    }
  }
  return found;
}"""


@pytest.fixture
def clinic(transactional_db: None) -> Fernhollow:
    return built_once(busy)


def busy() -> Fernhollow:
    """Thirty episodes of all ages, a few of them in trouble."""
    clinic, today = fernhollow(), timezone.localdate()
    Region.objects.update(covered_until=today + timedelta(days=400))
    for age in range(0, 90, 3):
        start = today - timedelta(days=age)
        suture = "unknown" if age in (9, 12, 15) else "non-absorbable"
        clinic.episode(clinic.patient(), surgery_on=start, today=start, suture=suture)
    return clinic


@pytest.fixture
def therapist(page: Page, clinic: Fernhollow, sign_in) -> Page:
    return sign_in(page, clinic.therapist)


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (390, "dark")])
def test_axe_reports_nothing_on_any_list(therapist: Page, width: int, scheme):
    therapist.set_viewport_size({"width": width, "height": 900})
    therapist.emulate_media(color_scheme=scheme)
    for address in PAGES:
        therapist.goto(address)
        found = Axe().run(therapist)
        assert found.violations_count == 0, f"{address}: {found.generate_report()}"


def test_axe_reports_nothing_on_the_sign_in_page(page: Page, clinic: Fernhollow):
    Staff.objects.update(demo=True)
    page.goto("/sign-in/")
    assert Axe().run(page).violations_count == 0


def test_nothing_runs_over_the_edge_of_a_small_telephone(therapist: Page):
    therapist.set_viewport_size({"width": 360, "height": 740})
    for address in PAGES:
        therapist.goto(address)
        assert therapist.evaluate("document.documentElement.scrollWidth") == 360, address


@pytest.mark.parametrize("width", [390, 1280])
def test_no_choice_of_a_filter_is_cut(page: Page, clinic: Fernhollow, sign_in, width: int):
    lead = sign_in(page, clinic.lead)
    lead.set_viewport_size({"width": width, "height": 900})
    for address in ("/caseload/", "/to-book/", "/diary/", "/overdue/", "/waits/patients/", "/trail/"):
        lead.goto(address)
        for name, shown, needed in lead.evaluate(NEEDED_BY_CHOICES):
            assert shown >= min(needed, width - 32), f"{address}: {name}"


@pytest.mark.parametrize("width", [390, 1280])
def test_no_date_parts_at_the_end_of_a_line(therapist: Page, width: int):
    therapist.set_viewport_size({"width": width, "height": 900})
    for address in PAGES:
        therapist.goto(address)
        assert therapist.evaluate(PARTED_DATES) == [], address


def test_no_page_breaks_the_policy_that_forbids_inline_styles_and_scripts(therapist: Page):
    said: list[str] = []
    therapist.on("console", lambda message: said.append(message.text))
    for address in PAGES[:-1]:
        therapist.goto(address)
    assert said == []


def test_a_first_load_weighs_at_most_ninety_kibibytes(therapist: Page):
    answers: list[Response] = []
    therapist.on("response", lambda answer: answers.append(answer))
    therapist.goto("/overdue/", wait_until="networkidle")
    sizes = {answer.url: sent(answer) for answer in answers}
    assert len(sizes) == 7 and sum(sizes.values()) <= FIRST_LOAD, sizes


def sent(response: Response) -> int:
    """The bytes of an answer as the planner sends it: style sheets and scripts are kept compressed, pages are not."""
    body = response.body()
    return len(gzip.compress(body) if response.url.endswith((".css", ".js")) else body)


def test_the_question_mark_opens_the_list_of_keys_and_escape_closes_it(therapist: Page):
    therapist.goto("/caseload/")
    therapist.keyboard.press("?")
    expect(therapist.locator("dialog")).to_be_visible()
    therapist.keyboard.press("Escape")
    expect(therapist.locator("dialog")).to_be_hidden()


def test_a_whole_list_is_walked_by_keys(therapist: Page):
    therapist.goto("/caseload/")
    links = therapist.locator("[data-rows] tbody .who-is")
    therapist.keyboard.press("ArrowDown")
    expect(links.nth(0)).to_be_focused()
    therapist.keyboard.press("ArrowDown")
    expect(links.nth(1)).to_be_focused()
    therapist.keyboard.press("End")
    expect(links.nth(24)).to_be_focused()
    therapist.keyboard.press(".")
    therapist.wait_for_url("**page=2*")


def test_going_back_keeps_the_filter_and_the_row(therapist: Page):
    therapist.goto("/caseload/?sort=-patient")
    row = therapist.locator("[data-rows] tbody .who-is").nth(20)
    row.click()
    therapist.wait_for_url("**/episodes/**")
    therapist.go_back()
    assert "sort=-patient" in therapist.url
    expect(therapist.locator("[data-rows] tbody .who-is").nth(20)).to_be_focused()


def test_keys_lead_to_the_search_the_filters_and_other_pages(therapist: Page):
    therapist.goto("/caseload/")
    therapist.keyboard.press("f")
    expect(therapist.locator("#filter-name")).to_be_focused()
    therapist.locator("h1").click()
    therapist.keyboard.press("4")
    therapist.wait_for_url("**/overdue/")
    therapist.keyboard.press("/")
    therapist.keyboard.type("family")
    therapist.keyboard.press("Enter")
    expect(therapist.locator("h1")).to_have_text("Find a patient")
    assert "family" not in therapist.url


def test_single_keys_can_be_switched_off_for_good(therapist: Page):
    therapist.goto("/help/")
    therapist.locator("main [data-keys-switch]").uncheck()
    therapist.goto("/caseload/")
    therapist.keyboard.press("?")
    expect(therapist.locator("dialog")).to_be_hidden()


def test_the_first_tab_stop_leads_past_the_menu(therapist: Page):
    therapist.goto("/caseload/")
    therapist.keyboard.press("Tab")
    expect(therapist.locator(".skip")).to_be_focused()
    therapist.keyboard.press("Enter")
    expect(therapist.locator("main")).to_be_focused()


def test_on_paper_a_list_is_only_the_list(therapist: Page):
    therapist.goto("/overdue/")
    therapist.emulate_media(media="print")
    expect(therapist.locator("[data-rows] tbody tr").first).to_be_visible()
    for gone in (".mast nav", ".filters", ".pages form"):
        expect(therapist.locator(gone)).to_be_hidden()


def test_lists_work_without_script(chromium: Browser, live_server, clinic: Fernhollow, sign_in):
    context = chromium.new_context(base_url=live_server.url, java_script_enabled=False)
    page = sign_in(context.new_page(), clinic.lead)
    page.goto("/overdue/")
    page.locator("select[name=headline]").select_option("missing-fact")
    page.locator(".filters button").click()
    assert "headline=missing-fact" in page.url and page.locator("[data-rows] tbody tr").count() == 3
    page.locator("[data-help]").click()
    expect(page.locator("h1")).to_have_text("Help")
    context.close()
