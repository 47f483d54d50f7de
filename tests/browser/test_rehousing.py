"""Worked day 4 played through the pages: the therapist is ill on Tue 7 Apr 2026, three patients of
22, 23 and 24 March are to have their stitches out, and there is one place each on Tuesday, Wednesday and Thursday."""

from collections.abc import Iterator
from datetime import UTC, date, datetime

import pytest
import time_machine
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from caseload.actions import appointments
from caseload.models import Appointment
from tests.kept import built_once
from tests.scenario import Fernhollow, _staff, by, fernhollow

pytestmark = pytest.mark.browser

ILL = date(2026, 4, 7)


@pytest.fixture(autouse=True)
def that_morning() -> Iterator[None]:
    """The server answers from threads of this process, so its clock can be set here: 07:30 at the clinic."""
    with time_machine.travel(datetime(2026, 4, 7, 6, 30, tzinfo=UTC)):
        yield


@pytest.fixture
def clinic(transactional_db: None) -> Fernhollow:
    return built_once(booked_wrong)


def booked_wrong() -> Fernhollow:
    """Booked in the wrong order, so that only the rule can bring them into the right one."""
    clinic = fernhollow()
    session = clinic.session(ILL, end=600)
    for start, day in ((540, 24), (560, 22), (580, 23)):
        patient = clinic.patient(family=f"March{day}", given="Pat", phone="07700 900123")
        row = clinic.episode(patient, surgery_on=date(2026, 3, day)).follow_ups.get(key="stitches-out")
        appointments.book([row], by=by(clinic.admin), session=session, start=start)
    other = _staff("otto", is_therapist=True)
    for on in (ILL, date(2026, 4, 8), date(2026, 4, 9)):
        clinic.session(on, start=800, end=820, therapist=other)
    return clinic


@pytest.fixture
def admin(page: Page, clinic: Fernhollow, sign_in) -> Page:
    return sign_in(page, clinic.admin)


def test_three_patients_of_an_ill_therapist_are_rehoused_in_order_of_their_last_day(admin: Page):
    admin.goto("/diary/")
    admin.get_by_role("link", name="Call off").first.click()
    rows = admin.locator("[data-rows] tbody tr")
    places = ("Tue 7 Apr 2026, 13:20", "Wed 8 Apr 2026, 13:20", "Thu 9 Apr 2026, 13:20")
    for at, (family, place) in enumerate(zip(("MARCH22", "MARCH23", "MARCH24"), places, strict=True)):
        expect(rows.nth(at)).to_contain_text(family)
        expect(rows.nth(at)).to_contain_text(place)
    expect(admin.locator("[name=accept]:checked")).to_have_count(3)
    admin.get_by_label("Why is it called off?").fill("therapist ill")
    admin.get_by_role("button", name="Call off").click()
    expect(admin.get_by_role("status")).to_contain_text("3 patients have other places and are to be told.")
    expect(admin.get_by_role("heading", name="Nobody waits for another place")).to_be_visible()
    found = Appointment.objects.order_by("on").values_list("patient__family", "on", "told", "live")
    assert list(found) == [("March22", ILL, "untold", True), ("March23", date(2026, 4, 8), "untold", True),
                           ("March24", date(2026, 4, 9), "untold", True)]  # fmt: skip
    admin.goto("/diary/")
    expect(admin.locator("s").first).to_contain_text("Thea Marsh")
    expect(admin.locator("main")).to_contain_text("called off: therapist ill")
    expect(admin.locator("main")).to_contain_text("not told yet")


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (390, "dark")])
def test_axe_reports_nothing_and_nothing_runs_over_the_edge(admin: Page, clinic: Fernhollow, width: int, scheme):
    admin.set_viewport_size({"width": width, "height": 900})
    admin.emulate_media(color_scheme=scheme)
    code = Appointment.objects.first().session.code
    for address in (f"/sessions/{code}/call-off/", "/rehousing/"):
        admin.goto(address)
        assert Axe().run(admin).violations_count == 0, address
        assert admin.evaluate("document.documentElement.scrollWidth") <= width
