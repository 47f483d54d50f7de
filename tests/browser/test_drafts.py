"""What is typed into the page of a visit outlives the network, the time-out and a colleague, in a real browser."""

from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.contrib.sessions.models import Session
from django.utils import timezone
from playwright.sync_api import Page, expect

from caseload.actions import visits
from caseload.models import Draft, Episode
from caseload.timetable.terms import AfterVisit
from tests.scenario import Fernhollow, by

pytestmark = pytest.mark.browser
OVER = "document.documentElement.scrollWidth - document.documentElement.clientWidth"


@pytest.fixture
def episode(clinic: Fernhollow) -> Episode:
    start = timezone.localdate() - timedelta(days=14)
    return clinic.episode(clinic.patient(given="Marian", family="Oakshott"), surgery_on=start, today=start)


@pytest.fixture
def open_page(page: Page, clinic: Fernhollow, episode: Episode, sign_in) -> Page:
    sign_in(page, clinic.therapist).goto(f"/episodes/{episode.code}/visit/")
    return page


def fill(page: Page) -> None:
    page.get_by_label("Taken out").fill("4")
    page.get_by_label("Left in").fill("0")
    page.locator("[name=d1_wound][value=closed]").check()
    page.locator("[name=d1_after][value=continue]").check()


def is_silent(page: Page) -> None:
    found = Axe().run(page)
    assert found.violations_count == 0, f"{page.url}: {found.generate_report()}"
    assert page.evaluate(OVER) <= 0, page.url


def test_it_is_kept_while_it_is_typed_and_one_press_saves_what_was_shown(open_page: Page):
    fill(open_page)
    expect(open_page.locator("#kept")).to_contain_text("Kept at")
    open_page.get_by_role("button", name="Save the visit").click()
    expect(open_page.get_by_role("status").first).to_contain_text("The visit is recorded.")
    assert not Draft.objects.exists()
    for width in (390, 1280):
        open_page.set_viewport_size({"width": width, "height": 900})
        is_silent(open_page)


def test_a_page_that_is_left_at_once_is_kept_too(open_page: Page, episode: Episode):
    open_page.get_by_label("Note", exact=True).fill("dry")
    open_page.goto("/today/")
    open_page.goto(f"/episodes/{episode.code}/visit/")
    expect(open_page.get_by_label("Note", exact=True)).to_have_value("dry")
    expect(open_page.get_by_text("did not save it")).to_be_visible()
    is_silent(open_page)
    open_page.get_by_role("button", name="Throw it away").click()
    expect(open_page.get_by_label("Note", exact=True)).to_have_value("")


def test_without_a_network_it_says_so_and_sends_it_later(open_page: Page):
    open_page.context.set_offline(True)
    open_page.get_by_label("Note", exact=True).fill("dry")
    expect(open_page.locator("#kept")).to_contain_text("Not kept: no connection. Keep this page open.")
    open_page.context.set_offline(False)
    expect(open_page.locator("#kept")).to_contain_text("Kept at")


def test_after_the_time_out_the_page_that_stayed_open_still_leads_to_what_was_typed(
    open_page: Page, clinic: Fernhollow, sign_in
):
    Session.objects.all().delete()
    fill(open_page)
    expect(open_page.locator("#kept")).to_contain_text("you are signed out")
    sign_in(open_page, clinic.therapist)
    open_page.get_by_label("Note", exact=True).fill("dry")
    expect(open_page.locator("#kept")).to_contain_text("Kept at")


def test_both_texts_are_readable_and_silent_for_axe(open_page: Page, clinic: Fernhollow, episode: Episode):
    fill(open_page)
    expect(open_page.get_by_role("button", name="Save the visit")).to_be_visible()
    today = timezone.localdate()
    look = visits.Look(episode, AfterVisit.CONTINUE, findings=[{"kind": "wound", "wound": "concern"}])
    visits.record(episode.patient, by=by(clinic.lead, today), on=today, looks=[look])
    open_page.get_by_role("button", name="Save the visit").click()
    expect(open_page.locator("#meanwhile")).to_contain_text("Wound of concern")
    expect(open_page.locator("#meanwhile")).to_contain_text("Wound: closed")
    for width in (390, 1280):
        open_page.set_viewport_size({"width": width, "height": 900})
        is_silent(open_page)


def test_what_can_not_be_saved_any_more_is_silent_for_axe(open_page: Page, clinic: Fernhollow, episode: Episode):
    fill(open_page)
    expect(open_page.locator("#kept")).to_contain_text("Kept at")
    today = timezone.localdate()
    look = visits.Look(episode, AfterVisit.REFER_BACK, received_by="Dr Wren")
    visits.record(episode.patient, by=by(clinic.lead, today), on=today, looks=[look])
    open_page.get_by_label("Note", exact=True).fill("dry")
    expect(open_page.locator("#meanwhile")).to_contain_text("Wound: closed")
    open_page.reload()
    expect(open_page.get_by_role("heading", name="This visit cannot be saved as it was begun")).to_be_visible()
    is_silent(open_page)
