"""Worked day 3 played through the pages: surgery Tue 24 Mar 2026, booked for 7 April; cancelled by
the patient on Thu 2 April with three usable days left; rebooked for Wed 8; cancelled that morning, Thu 9 is full, so
Fri 10 (day 17), one day late.

The days are arithmetic on the published bank holidays of England and Wales: Good Friday 3 and Easter Monday 6 April.
"""

from collections.abc import Iterator
from datetime import UTC, date, datetime

import pytest
import time_machine
from playwright.sync_api import Page, expect

from caseload.actions import appointments
from caseload.models import Appointment, Episode, Session, Standing
from tests.scenario import Fernhollow, by, fernhollow

pytestmark = pytest.mark.browser

TUE, WED, THU, FRI = (date(2026, 4, day) for day in (7, 8, 9, 10))


@pytest.fixture(autouse=True)
def clock() -> Iterator[time_machine.Traveller]:
    """The server answers from threads of this process, so its clock can be set here: 09:30 at the clinic."""
    with time_machine.travel(datetime(2026, 4, 2, 8, 30, tzinfo=UTC)) as travelled:
        yield travelled


@pytest.fixture
def clinic(transactional_db: None) -> Fernhollow:
    """A session of three slots each day that the clinic is open."""
    clinic = fernhollow()
    for on in (TUE, WED, THU, FRI, date(2026, 4, 13)):
        clinic.session(on, end=600)
    return clinic


@pytest.fixture
def episode(clinic: Fernhollow) -> Episode:
    patient = clinic.patient(family="Oakshott", given="Marian", phone="07700 900123")
    episode = clinic.episode(patient, surgery_on=date(2026, 3, 24), today=date(2026, 3, 25), for_therapy=False)
    clinic.book([episode.follow_ups.get(key="stitches-out")], TUE, today=date(2026, 3, 25))
    return episode


@pytest.fixture
def admin(page: Page, clinic: Fernhollow, sign_in) -> Page:
    return sign_in(page, clinic.admin)


def cancel(admin: Page, episode: Episode) -> None:
    """The patient rings; the booking is found on the page of the episode."""
    admin.goto(f"/episodes/{episode.code}/")
    admin.get_by_role("link", name="Record outcome").first.click()
    admin.get_by_label("cancelled by the patient").check()
    admin.get_by_role("button", name="Save the outcome").click()


def book_on(admin: Page, episode: Episode, typed: str, said: str) -> None:
    """A day that the patient asks for: every free time of it is on the full page."""
    admin.goto(f"/episodes/{episode.code}/appointments/new/?for=stitches-out")
    admin.get_by_label("Another day").fill(typed)
    admin.get_by_role("button", name="Show the free times").click()
    admin.get_by_label(said).first.check()
    admin.get_by_role("button", name="Book", exact=True).click()


def book_first_offer(admin: Page) -> None:
    admin.goto("/to-book/?kind=stitches-out")
    admin.get_by_role("button", name="Book", exact=True).click()


def fill(clinic: Fernhollow, on: date) -> None:
    """Three others take every slot of a day."""
    for _ in range(3):
        other = clinic.episode(surgery_on=date(2026, 3, 26), today=date(2026, 3, 27), for_therapy=False)
        clinic.book([other.follow_ups.get(key="stitches-out")], on, today=date(2026, 3, 27))


def test_a_visit_cancelled_twice_finds_its_next_place_and_nobody_is_lost(
    admin: Page, clinic: Fernhollow, episode: Episode, clock: time_machine.Traveller, sign_in
):
    fill(clinic, THU)
    cancel(admin, episode)
    admin.goto("/to-book/?kind=stitches-out")
    row = admin.locator("[data-rows] tbody tr").first
    expect(row).to_contain_text("OAKSHOTT, Marian")
    expect(row).to_contain_text("3 usable days left")
    expect(row).to_contain_text("Cancelled by the patient")

    book_on(admin, episode, "8/4", "Wed 8 Apr 2026")
    assert current(episode).on == WED

    clock.move_to(datetime(2026, 4, 8, 7, 0, tzinfo=UTC))
    sign_in(admin, clinic.admin)
    fill_rest_of(clinic, WED)
    cancel(admin, episode)
    admin.goto("/to-book/?kind=stitches-out")
    offer = admin.locator("label").filter(has=admin.locator("input[name=slot]:checked"))
    expect(offer).to_contain_text("Fri 10 Apr 2026 · day 17")
    expect(offer).to_contain_text("1 day after the last day")
    book_first_offer(admin)
    assert (current(episode).on, current(episode).told) == (FRI, "told")

    due = episode.follow_ups.get(key="stitches-out")
    assert (due.anchor_on, due.target_on, due.latest_on) == (date(2026, 3, 24), TUE, THU), "no clock is restarted"

    admin.goto("/to-book/?kind=stitches-out")
    row = admin.locator("[data-rows] tbody tr", has_text="OAKSHOTT, Marian")
    expect(row).to_contain_text("Booked Fri 10 Apr 2026, 09:00: move it.")
    expect(row).to_contain_text("The day lies outside the window.")
    expect(row).to_contain_text("Cancelled by the patient, second time: the appointment of Wed 8 Apr 2026.")
    admin.goto("/overdue/")
    row = admin.locator("[data-rows] tbody tr", has_text="OAKSHOTT, Marian")
    expect(row).to_contain_text("Booked outside the window")
    standing = Standing.objects.on(WED)
    assert sorted(standing.values_list("episode", flat=True)) == sorted(Episode.objects.values_list("pk", flat=True))


def fill_rest_of(clinic: Fernhollow, on: date) -> None:
    """What is free on a day, but for the place of the one who cancels, is taken; then that place is held as well."""
    session = Session.objects.get(on=on)
    held = current(Episode.objects.get(patient__family="Oakshott"))
    for slot in session.slots.filter(seat__isnull=True):
        other = clinic.episode(surgery_on=date(2026, 3, 26), today=date(2026, 3, 27), for_therapy=False)
        row = other.follow_ups.get(key="stitches-out")
        appointments.book([row], by=by(clinic.admin, date(2026, 3, 27)), session=session, start=slot.minute)
    session.slots.filter(minute=held.start_minute).update(held_why="kept for urgent")


def current(episode: Episode) -> Appointment:
    return Appointment.objects.get(purposes__follow_up__episode=episode, live=True, outcome="")
