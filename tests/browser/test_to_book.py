"""The booking list in a real browser: without a mouse, by two at once, without script, silent for axe, narrow."""

from collections.abc import Iterator
from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Browser, Page, expect

from caseload.models import Appointment, Contact, Region, WorkedOn
from tests.kept import built_once
from tests.scenario import Fernhollow, by, fernhollow

pytestmark = pytest.mark.browser

ADDRESS = "/to-book/?kind=stitches-out"
TWENTY = 20
MOST_KEYS = 6
"""Keystrokes per booking that the person this is built for allows."""


@pytest.fixture
def clinic(transactional_db: None) -> Fernhollow:
    return built_once(busy)


def busy() -> Fernhollow:
    """Twenty-four patients whose stitches come out soon, and a session on each day of the next three weeks."""
    clinic, today = fernhollow(), timezone.localdate()
    Region.objects.update(covered_until=today + timedelta(days=400))
    clinic.site.weekdays = "0123456"
    clinic.site.save()
    for ahead in range(1, 22):
        clinic.session(today + timedelta(days=ahead))
    for number in range(24):
        patient = clinic.patient(phone=f"07700 900{100 + number}", interpreter=number == 5, language="Polish")
        start = today - timedelta(days=6 + number % 9)
        clinic.episode(patient, surgery_on=start, today=start, for_therapy=False)
    return clinic


@pytest.fixture
def admin(page: Page, clinic: Fernhollow, sign_in) -> Page:
    return sign_in(page, clinic.admin)


@pytest.fixture
def other(chromium: Browser, live_server, clinic: Fernhollow, sign_in) -> Iterator[Page]:
    """A colleague at another computer."""
    context = chromium.new_context(base_url=live_server.url, locale="en-GB", timezone_id="Europe/London")
    yield sign_in(context.new_page(), clinic.lead)
    context.close()


class Keyboard:
    """Presses keys and counts them; the mouse is never touched."""

    def __init__(self, page: Page) -> None:
        self.page, self.pressed = page, 0

    def press(self, *keys: str) -> None:
        for key in keys:
            self.page.keyboard.press(key)
            self.pressed += 1

    def go(self, *keys: str) -> None:
        """Press keys of which the last leads to another page."""
        self.press(*keys[:-1])
        with self.page.expect_navigation():
            self.press(keys[-1])


def focused(page: Page) -> str:
    return str(page.evaluate("document.activeElement.name || ''"))


def opened(page: Page) -> str:
    return page.locator("#open-row a").inner_text()


def test_twenty_follow_ups_are_booked_without_a_mouse_in_six_keys_each_at_most(admin: Page):
    admin.goto(ADDRESS)
    keys, counts, rung = Keyboard(admin), [], []
    for turn in range(TWENTY):
        before, choice = keys.pressed, "ArrowDown" if turn % 3 == 2 else ""
        rung.append(opened(admin))
        if turn == 0:
            keys.press("b")
        keys.go(*filter(None, [choice, "Enter"]))
        counts.append(keys.pressed - before)
        expect(admin.locator("#offers :checked")).to_be_focused()  # the next row is ready to be booked
    assert Appointment.objects.count() == TWENTY and len(set(rung)) == TWENTY
    assert max(counts) <= MOST_KEYS and sum(counts) == keys.pressed, counts


def test_namesakes_cost_one_key_more(admin: Page, clinic: Fernhollow):
    today = timezone.localdate()
    for _ in range(2):
        start = today - timedelta(days=15)
        clinic.episode(clinic.patient(family="Aarden", given="Jo"), surgery_on=start, today=start, for_therapy=False)
    admin.goto(ADDRESS)
    row = admin.locator("tbody").get_by_role("link", name="AARDEN, Jo").first.get_attribute("href")
    admin.goto(f"/to-book/{row}")
    expect(admin.locator("[name=birth_date_confirmed]")).to_be_focused()
    Keyboard(admin).go("Space", "Enter")
    assert Appointment.objects.get().patient.family == "Aarden"


def test_no_answer_is_one_key_and_goes_on(admin: Page):
    admin.goto(ADDRESS)
    first = opened(admin)
    keys = Keyboard(admin)
    keys.go("n")
    assert Contact.objects.get().reached == "no-answer" and opened(admin) != first
    keys.go("m")
    assert Contact.objects.filter(reached="message-left").count() == 1
    keys.go("a")
    keys.go("a")
    assert opened(admin) == first
    expect(admin.locator(".work section .tag").first).to_contain_text("no answer")


def test_a_double_enter_books_once(admin: Page):
    admin.goto(ADDRESS)
    Keyboard(admin).press("b")
    admin.evaluate("const f = document.querySelector('[data-visit]'); f.requestSubmit(); f.requestSubmit();")
    expect(admin.get_by_role("status")).to_contain_text("Booked")
    assert Appointment.objects.count() == 1


def test_two_browsers_working_down_the_list_do_not_get_the_same_row(admin: Page, other: Page):
    admin.goto(ADDRESS)
    other.goto(ADDRESS)
    seen: list[str] = []
    for _ in range(6):
        assert opened(admin) != opened(other)
        seen += [opened(admin), opened(other)]
        for page in (admin, other):
            keys = Keyboard(page)
            if focused(page) != "slot":
                keys.press("b")
            keys.go("Enter")
            if page.locator("#errors").count():  # the colleague took this very slot a moment ago
                keys.go("Enter")
    assert len(seen) == len(set(seen)) == Appointment.objects.count() == 12


def test_a_row_that_somebody_has_open_says_who(admin: Page, other: Page, clinic: Fernhollow):
    admin.goto(ADDRESS)
    mine = admin.locator("tr[aria-current] a").get_attribute("href")
    other.goto(ADDRESS)
    expect(other.locator("tbody")).to_contain_text(f"{clinic.admin.name} has this open")
    other.goto(f"/to-book/{mine}")
    expect(other.locator(".work section")).to_contain_text(f"{clinic.admin.name} has this open")


def test_a_page_in_use_keeps_its_row(admin: Page):
    admin.clock.install()
    admin.goto(ADDRESS)
    WorkedOn.objects.update(at=timezone.now() - timedelta(minutes=2))
    with admin.expect_response("**/to-book/open/") as kept:
        admin.clock.fast_forward(61_000)
    assert kept.value.status == 204
    assert WorkedOn.objects.get().at > timezone.now() - timedelta(minutes=1)


def test_ticking_something_offers_anew_without_leaving_the_place(admin: Page, clinic: Fernhollow):
    patient, today = clinic.patient(family="Twofold"), timezone.localdate()
    for digit in ("ring", "little"):
        start = today - timedelta(days=13)
        clinic.episode(patient, surgery_on=start, today=start, digit=digit, for_therapy=False)
    admin.goto(ADDRESS)
    row = admin.locator("tbody").get_by_role("link", name="TWOFOLD").first.get_attribute("href")
    admin.goto(f"/to-book/{row}")
    times = admin.locator("#offers label").first
    expect(times).to_contain_text("09:00 to 09:40")
    admin.locator("[name=follow_ups]").last.focus()
    admin.keyboard.press("Space")
    expect(times).to_contain_text("09:00 to 09:20")
    assert focused(admin) == "follow_ups" and admin.locator("#offers :checked").count() == 1


def test_it_all_works_without_script(chromium: Browser, live_server, clinic: Fernhollow, sign_in):
    context = chromium.new_context(base_url=live_server.url, java_script_enabled=False)
    page = sign_in(context.new_page(), clinic.admin)
    page.goto(ADDRESS)
    first = opened(page)
    assert not page.locator("[data-press] kbd").first.is_visible(), "a key that does nothing"
    page.get_by_role("button", name="Other offers").click()
    assert opened(page) == first
    page.get_by_role("button", name="Book").click()
    expect(page.get_by_role("status")).to_contain_text("Booked")
    page.get_by_role("button", name="No answer").first.click()
    assert Appointment.objects.count() == Contact.objects.count() == 1
    context.close()


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (390, "dark")])
def test_axe_reports_nothing(admin: Page, clinic: Fernhollow, width: int, scheme):
    untold_one(clinic)
    admin.set_viewport_size({"width": width, "height": 900})
    admin.emulate_media(color_scheme=scheme)
    admin.goto("/to-book/")
    found = Axe().run(admin)
    assert found.violations_count == 0, found.generate_report()


def test_nothing_runs_over_the_edge_of_a_small_telephone(admin: Page, clinic: Fernhollow):
    untold_one(clinic)
    admin.set_viewport_size({"width": 360, "height": 740})
    admin.goto("/to-book/")
    assert admin.evaluate("document.documentElement.scrollWidth") == 360


def untold_one(clinic: Fernhollow) -> None:
    """Somebody whose appointment was moved and who does not know yet; and one booked who does."""
    today = timezone.localdate()
    start = today - timedelta(days=12)
    for told in ("untold", "told"):
        episode = clinic.episode(clinic.patient(phone="01632 960118"), surgery_on=start, today=start)
        due = episode.follow_ups.get(key="stitches-out")
        clinic.book([due], today + timedelta(days=2), by=by(clinic.admin, today), told=told)


def test_the_open_row_is_marked_by_more_than_its_ground(admin):
    admin.emulate_media(forced_colors="active")
    admin.goto(ADDRESS)
    styles = admin.locator("main tbody tr").evaluate_all("rows => rows.map(row => getComputedStyle(row).outlineStyle)")
    assert styles[0] == "solid"
    assert set(styles[1:]) == {"none"}


def test_on_paper_it_is_the_list_alone(admin: Page):
    admin.goto(ADDRESS)
    admin.emulate_media(media="print")
    assert admin.locator("main table").first.is_visible()
    assert not admin.locator("#offers").is_visible()
