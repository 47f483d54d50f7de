"""One patient from the theatre list to discharge, in a real browser: booked, stitches half out, re-checked, closed,
scar work unlocked, the wound opens and locks it again, closes, outcome review, discharge.

The days are arithmetic on the shipped rules "two-week" and the published bank holidays (Good Friday 3 April 2026).
"""

import re
from collections.abc import Iterator
from datetime import UTC, date, datetime, time
from pathlib import Path

import pytest
import time_machine
from playwright.sync_api import Page, expect

from caseload.models import Episode
from tests.scenario import Fernhollow, fernhollow

pytestmark = pytest.mark.browser

SAVED = re.compile(r"/visits/\w+/")

LIST = """Surname,First name,Date of birth,Telephone,Surgery date,Side,Digit,Technique,Suture,Number of stitches,Site
Oakshott,Marian,1958-05-17,07700 900123,2026-03-20,right,ring,open,nylon,4,Fernhollow
"""
SESSIONS = (date(2026, 4, 2), date(2026, 4, 7), date(2026, 4, 14), date(2026, 4, 17), date(2026, 5, 1))


@pytest.fixture(autouse=True)
def clock() -> Iterator[time_machine.Traveller]:
    with time_machine.travel(datetime(2026, 3, 23, 8, 30, tzinfo=UTC)) as travelled:
        yield travelled


class Course:
    """The browser, who is signed in, and the patient's one episode."""

    def __init__(self, page: Page, clinic: Fernhollow, clock: time_machine.Traveller, sign_in) -> None:
        self.page, self.clinic, self.clock, self.sign_in = page, clinic, clock, sign_in

    def as_admin(self, day: date) -> Page:
        return self._as(self.clinic.admin, day)

    def as_therapist(self, day: date) -> Page:
        return self._as(self.clinic.therapist, day)

    def _as(self, staff, day: date) -> Page:
        self.clock.move_to(datetime.combine(day, time(8, 15), tzinfo=UTC))
        return self.sign_in(self.page, staff)

    @property
    def episode(self) -> Episode:
        return Episode.objects.get()

    def books(self, day: date, kind: str) -> None:
        """The first offer for a follow-up, taken with one press."""
        page = self.as_admin(day)
        due = self.episode.follow_ups.get(kind=kind, state="due")
        page.goto(f"/episodes/{self.episode.code}/appointments/new/?for={due.key}")
        page.get_by_role("button", name="Book", exact=True).click()
        expect(page.get_by_role("status").first).to_contain_text("Booked")

    def sees(self, day: date, *, next_step: str, **typed: str) -> Page:
        """The visit of the day, from Today to the page of the saved visit."""
        page = self.as_therapist(day)
        page.goto("/today/")
        page.get_by_role("link", name="Record the visit").first.click()
        for name, value in typed.items():
            self.fill(f"d1_{name}", value)
        page.locator(f'[name="d1_after"][value="{next_step}"]').check()
        return page

    def fill(self, name: str, value: str) -> None:
        field = self.page.locator(f'[name="{name}"]')
        if field.first.get_attribute("type") in ("radio", "checkbox"):
            self.page.locator(f'[name="{name}"][value="{value}"]').check()
        else:
            field.fill(value)

    def save(self) -> None:
        """One press shows what changes, unless the page has shown it while it was filled in; one press saves."""
        look(self.page)
        self.page.get_by_role("button", name="Save the visit").click()
        self.page.wait_for_url(SAVED)

    def activity(self, name: str) -> str:
        """How an activity stands on the page of the episode."""
        self.page.goto(f"/episodes/{self.episode.code}/")
        return self.page.get_by_role("row", name=name).first.inner_text()


def look(page: Page) -> None:
    """Wait until the page has shown what saving would change of everything typed so far."""
    with page.expect_response(lambda answer: "x-kept" in answer.headers):
        page.locator('[name="note"]').press_sequentially(".")
    expect(page.get_by_role("region", name="What saving changes")).to_be_visible()


@pytest.fixture
def course(page: Page, transactional_db: None, clock: time_machine.Traveller, sign_in) -> Course:
    clinic = fernhollow()
    for on in SESSIONS:
        clinic.session(on)
    return Course(page, clinic, clock, sign_in)


def test_from_the_theatre_list_to_discharge(course: Course, tmp_path: Path):
    take_in(course, tmp_path)
    course.books(date(2026, 3, 23), "stitches-out")

    page = course.sees(date(2026, 4, 2), next_step="continue", stitches_out="2", stitches_left="2", wound="not-closed")
    look(page)
    expect(page.get_by_role("region", name="What saving changes")).to_contain_text("Stitches re-check")
    course.save()
    assert "locked" in course.activity("Scar massage").lower()

    course.books(date(2026, 4, 2), "stitches-recheck")
    page = course.sees(
        date(2026, 4, 7), next_step="review", stitches_out="2", stitches_left="0", wound="closed", in_days="7"
    )
    course.save()
    assert "Wed 8 Apr 2026" in course.activity("Scar massage")

    course.books(date(2026, 4, 7), "set-review")
    course.sees(date(2026, 4, 14), next_step="continue", wound="not-closed", started="scar-massage")
    page.get_by_role("button", name="See what changes").click()
    expect(page.get_by_role("alert").first).to_contain_text("Scar massage cannot begin")
    page.locator('[name="d1_started"][value="scar-massage"]').uncheck()
    course.save()
    assert "locked" in course.activity("Scar massage").lower(), "a wound that opens again locks it"

    course.books(date(2026, 4, 14), "wound-recheck")
    course.sees(date(2026, 4, 17), next_step="continue", wound="closed", started="scar-massage", pain="2")
    course.save()
    assert "locked" not in course.activity("Scar massage").lower()

    course.books(date(2026, 4, 17), "outcome-review")
    page = course.sees(date(2026, 5, 1), next_step="discharge", pain="0")
    page.locator("summary", has_text="QuickDASH").click()
    for number in range(1, 12):
        page.locator(f'[name="dash_{number}"]').fill("1")
    course.save()
    episode = course.episode
    assert (episode.ended_how, episode.ended_on) == ("discharged", date(2026, 5, 1))
    assert not episode.follow_ups.filter(state="due").exists()


def take_in(course: Course, folder: Path) -> None:
    file = folder / "april.csv"
    file.write_text(LIST)
    page = course.as_admin(date(2026, 3, 23))
    page.goto("/intake/")
    page.get_by_label("File").set_input_files(file)
    page.get_by_role("button", name="Read the list").click()
    page.get_by_role("button", name="Take in 1 row").click()
    expect(page.get_by_role("status")).to_contain_text("The list is taken in")
