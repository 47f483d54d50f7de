"""Long work in a real browser: silent for axe, narrow, cancelled by keyboard."""

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Page, expect

from caseload.models import Job, JobState
from tests.scenario import fernhollow

pytestmark = pytest.mark.browser


@pytest.fixture
def lead(page: Page, transactional_db: None, sign_in) -> Page:
    """One piece of work in each state."""
    clinic, now = fernhollow(), timezone.now()
    for state in JobState:
        over = None if state in (JobState.WAITING, JobState.RUNNING) else now
        said = {"done_steps": 300, "steps": 1200} if state == JobState.RUNNING else {"answer": "300 rows."}
        Job.objects.create(kind="rederive", by=clinic.lead, state=state, created_at=now, ended_at=over, **said)
    return sign_in(page, clinic.lead)


@pytest.mark.parametrize(("width", "scheme"), [(1280, "light"), (390, "dark")])
def test_axe_reports_nothing_and_nothing_runs_over_the_edge(lead: Page, width: int, scheme):
    lead.set_viewport_size({"width": width, "height": 900})
    lead.emulate_media(color_scheme=scheme)
    for address in ("/jobs/", *(f"/jobs/{job.code}/" for job in Job.objects.filter(state__in=["running", "failed"]))):
        lead.goto(address)
        found = Axe().run(lead)
        assert found.violations_count == 0, f"{address}: {found.generate_report()}"
        assert lead.evaluate("document.documentElement.scrollWidth") == width, address


def test_work_that_waits_is_cancelled_from_the_list_by_keyboard(lead: Page):
    lead.goto("/jobs/")
    lead.get_by_role("button", name="Cancel it").last.focus()
    lead.keyboard.press("Enter")
    expect(lead.get_by_role("main")).to_contain_text("cancelled")
    assert Job.objects.filter(state=JobState.CANCELLED).count() == 2
