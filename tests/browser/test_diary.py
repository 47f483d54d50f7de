"""The diary in a real browser: silent for axe, narrow, on paper, and an appointment moved with the keyboard alone."""

from collections.abc import Iterator
from datetime import UTC, date, datetime

import pytest
import time_machine
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect

from caseload.actions import appointments
from caseload.models import Appointment, Slot
from tests.kept import built_once
from tests.scenario import Fernhollow, _staff, by, fernhollow

pytestmark = pytest.mark.browser

DAY = date(2026, 4, 7)


@pytest.fixture(autouse=True)
def first_of_april() -> Iterator[None]:
    with time_machine.travel(datetime(2026, 4, 1, 8, tzinfo=UTC)):
        yield


@pytest.fixture
def clinic(transactional_db: None) -> Fernhollow:
    return built_once(three_sessions)


def three_sessions() -> Fernhollow:
    clinic = fernhollow()
    session = clinic.session(DAY)
    clinic.session(DAY, start=800, end=900, therapist=_staff("otto", is_therapist=True))
    clinic.session(date(2026, 4, 10))
    for start, family, own in ((540, "Moss", {}), (560, "Reed", {"interpreter": True, "language": "Polish"})):
        episode = clinic.episode(clinic.patient(family=family, given="Ada", **own), surgery_on=date(2026, 3, 24))
        row = episode.follow_ups.get(key="stitches-out")
        appointments.book([row], by=by(clinic.admin), session=session, start=start)
    clinic.episode(clinic.patient(family="Waiting"), surgery_on=date(2026, 3, 24))
    Slot.objects.filter(session=session, minute__in=(660, 680)).update(held_why="for urgent patients")
    return clinic


@pytest.fixture
def admin(page: Page, clinic: Fernhollow, sign_in) -> Page:
    return sign_in(page, clinic.admin)


def addresses() -> list[str]:
    first = Appointment.objects.order_by("start_minute").first()
    assert first is not None and first.session is not None
    return [
        f"/diary/?on={DAY}", f"/diary/?on={DAY}&as=week", f"/diary/?on={DAY}&moving={first.code}",
        f"/diary/?on=2026-04-10&moving={first.code}", f"/diary/?on=2026-04-02&moving={first.code}",
        f"/sessions/{first.session.code}/slots/620/", "/diary/?on=2026-04-03",
    ]  # fmt: skip


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (390, "dark")])
def test_axe_reports_nothing_and_nothing_runs_over_the_edge(admin: Page, width: int, scheme):
    admin.set_viewport_size({"width": width, "height": 900})
    admin.emulate_media(color_scheme=scheme)
    for address in addresses():
        admin.goto(address)
        found = Axe().run(admin)
        assert found.violations_count == 0, f"{address}: {found.generate_report()}"
        assert admin.evaluate("document.documentElement.scrollWidth") <= width, address


def test_an_appointment_is_moved_without_a_mouse(admin: Page):
    admin.goto(f"/diary/?on={DAY}")
    admin.get_by_role("link", name="Move").first.focus()
    admin.keyboard.press("Enter")
    admin.wait_for_url("**moving=**")
    starts = admin.locator("button[form=moving]")
    assert [text.split()[-1] for text in starts.all_inner_texts()][:2] == ["10:00", "10:20"]
    starts.nth(0).focus()
    admin.keyboard.press("Tab")
    expect(starts.nth(1)).to_be_focused()
    admin.keyboard.press("Enter")
    expect(admin.get_by_role("status")).to_contain_text("MOSS, Ada is moved to Tue 7 Apr 2026, 10:20.")


def test_escape_leaves_an_appointment_where_it_is(admin: Page):
    admin.goto(addresses()[2])
    admin.keyboard.press("Escape")
    admin.wait_for_url(lambda url: "moving" not in url)
    assert Appointment.objects.filter(sequence=0).count() == 2


def test_an_appointment_is_moved_without_script(chromium: Browser, live_server, clinic: Fernhollow, sign_in):
    context = chromium.new_context(java_script_enabled=False, base_url=live_server.url)
    page = sign_in(context.new_page(), clinic.admin)
    page.goto(addresses()[3])
    page.get_by_role("button", name="09:00, 1 day after its last day").click()
    expect(page.get_by_role("status")).to_contain_text("is moved to Fri 10 Apr 2026, 09:00.")
    context.close()


def test_a_waiting_patient_is_booked_from_a_free_slot(admin: Page):
    admin.goto(f"/diary/?on={DAY}")
    admin.get_by_role("link", name="10:20").click()
    admin.get_by_role("button", name="Book WAITING").click()
    expect(admin.get_by_role("status")).to_contain_text("is booked for Tue 7 Apr 2026, 10:20.")


def test_the_day_prints_without_controls(admin: Page):
    admin.goto(f"/diary/?on={DAY}")
    admin.emulate_media(media="print")
    expect(admin.get_by_role("link", name="MOSS, Ada")).to_be_visible()
    for control in ("Move", "Call off", "10:20"):
        expect(admin.get_by_role("link", name=control).first).to_be_hidden()


@pytest.mark.parametrize("as_", ["", "week"])
def test_on_paper_it_says_of_which_day_it_is_and_never_today(admin: Page, clinic: Fernhollow, as_: str):
    clinic.session(date(2026, 4, 1))
    admin.goto(f"/diary/?on=2026-04-01&as={as_}")
    written = admin.get_by_text("as on Wed 1 Apr 2026")
    expect(written).to_be_hidden()
    admin.emulate_media(media="print")
    expect(written).to_be_visible()
    expect(admin.get_by_text("· today")).to_be_hidden()
