"""Worked day 5 played through the pages: ring finger operated 20 March 2026, out and closed
2 April; the index of the same hand operated Mon 13 April. Heavy lifting waits until 4 May, a bank holiday, for a
holiday moves no activity; the ring's outcome review and the index's stitches out share Mon 27 April, 60 minutes.
"""

import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, time

import pytest
import time_machine
from playwright.sync_api import Page, expect

from caseload.models import Appointment, Episode, Visit
from tests.scenario import Fernhollow, fernhollow

pytestmark = pytest.mark.browser

SAVED = re.compile(r"/visits/\w+/")

RING_OUT, INDEX_OUT = date(2026, 4, 2), date(2026, 4, 27)


@pytest.fixture(autouse=True)
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(datetime(2026, 4, 2, 8, 15, tzinfo=UTC)) as travelled:
        yield travelled


@pytest.fixture
def clinic(transactional_db: None) -> Fernhollow:
    clinic = fernhollow()
    clinic.session(RING_OUT)
    clinic.session(INDEX_OUT)
    return clinic


@pytest.fixture
def ring(clinic: Fernhollow) -> Episode:
    patient = clinic.patient(family="Oakshott", given="Marian")
    episode = clinic.episode(patient, today=date(2026, 3, 23), for_therapy=False)
    clinic.book([episode.follow_ups.get(key="stitches-out")], RING_OUT, today=date(2026, 3, 23))
    return episode


def at(page: Page, clock: time_machine.Traveller, sign_in, staff, day: date) -> Page:
    clock.move_to(datetime.combine(day, time(8, 15), tzinfo=UTC))
    return sign_in(page, staff)


def open_visit(page: Page) -> None:
    page.goto("/today/")
    page.get_by_role("link", name="Record the visit").first.click()


def save(page: Page) -> None:
    """Once the page has shown what saving would change of everything typed so far, one press saves."""
    with page.expect_response(lambda answer: "x-kept" in answer.headers):
        page.locator('[name="note"]').press_sequentially(".")
    page.get_by_role("button", name="Save the visit").click()
    page.wait_for_url(SAVED)


def closed_and_out(page: Page, digit: str, out: str) -> None:
    page.locator(f'[name="{digit}_stitches_out"]').fill(out)
    page.locator(f'[name="{digit}_stitches_left"]').fill("0")
    page.locator(f'[name="{digit}_wound"][value="closed"]').check()
    page.locator(f'[name="{digit}_after"][value="continue"]').check()


def heavy_lifting(page: Page, episode: Episode):
    page.goto(f"/episodes/{episode.code}/")
    return page.get_by_role("row", name="Heavy lifting").first


def test_the_finger_operated_last_decides_for_the_hand_and_one_visit_serves_both(
    page: Page, clinic: Fernhollow, ring: Episode, clock: time_machine.Traveller, sign_in
):
    at(page, clock, sign_in, clinic.therapist, RING_OUT)
    open_visit(page)
    closed_and_out(page, "d1", "4")
    save(page)
    expect(heavy_lifting(page, ring)).to_contain_text("Fri 10 Apr 2026")

    at(page, clock, sign_in, clinic.admin, date(2026, 4, 13))
    index = clinic.episode(
        ring.patient, surgery_on=date(2026, 4, 13), digit="index", today=date(2026, 4, 13), for_therapy=False
    )
    expect(heavy_lifting(page, ring)).to_contain_text("Mon 4 May 2026")
    book_both(page, index, ring)
    visit = Appointment.objects.get(outcome="")
    assert (visit.on, visit.minutes) == (INDEX_OUT, 60)

    at(page, clock, sign_in, clinic.therapist, INDEX_OUT)
    open_visit(page)
    expect(page.get_by_role("heading", name="right ring finger")).to_be_visible()
    expect(page.get_by_role("heading", name="right index finger")).to_be_visible()
    first = page.locator('[name="d1_stitches_out"]').count() and digit_of(page, index)
    closed_and_out(page, first, "4")
    other = "d2" if first == "d1" else "d1"
    page.locator(f'[name="{other}_after"][value="continue"]').check()
    save(page)
    assert Visit.objects.latest("id").examined.count() == 2
    assert not ring.follow_ups.filter(key="outcome-review", state="due").exists()
    row = heavy_lifting(page, ring)
    expect(row).to_contain_text("Mon 4 May 2026")
    expect(row).not_to_contain_text("not recorded as closed")


def book_both(page: Page, index: Episode, ring: Episode) -> None:
    page.goto(f"/episodes/{index.code}/appointments/new/?for=stitches-out")
    page.locator(f'[name="follow_ups"][value="{ring.code}/outcome-review"]').check()
    page.get_by_role("button", name="Show the free times").click()
    page.get_by_role("button", name="Book", exact=True).click()
    expect(page.get_by_role("status").first).to_contain_text("Booked")


def digit_of(page: Page, episode: Episode) -> str:
    """The prefix of a digit's fields: the mark of its episode stands hidden beside them."""
    return "d1" if page.locator(f'[data-episode="{episode.code}"] [name="d1_seen"]').count() else "d2"
