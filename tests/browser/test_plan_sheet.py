"""The plan sheet in a real browser: accessible, narrow enough for a telephone, and one page of paper by itself."""

import re
from datetime import date, timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.urls import reverse
from django.utils import timezone

from caseload.models import Job, Region
from caseload.outreach import pdf
from tests.scenario import fernhollow

pytestmark = pytest.mark.browser


def weekday(on: date) -> date:
    """The day, or the Monday after it."""
    return on + timedelta(days=max(0, 7 - on.weekday()) if on.weekday() > 4 else 0)


@pytest.fixture
def opened(transactional_db, page, sign_in):
    """The page of the fullest ordinary sheet, twelve days after surgery: two visits booked, a third to be booked."""
    clinic, today = fernhollow(), timezone.localdate()
    Region.objects.update(covered_until=today + timedelta(days=400))
    episode = clinic.episode(surgery_on=today - timedelta(days=12), today=today)
    for key, days in (("stitches-out", 1), ("outcome-review", 28)):
        clinic.book([episode.follow_ups.get(key=key)], weekday(today + timedelta(days=days)), today=today)
    sign_in(page, clinic.therapist).goto(reverse("plan-sheet", args=[episode.code]))
    return page


def test_axe_finds_nothing_at_either_width(opened):
    assert opened.get_by_text("We will ring you").count() == 1
    for width in (1280, 390):
        opened.set_viewport_size({"width": width, "height": 900})
        assert Axe().run(opened).response["violations"] == []
        assert opened.evaluate("document.documentElement.scrollWidth") <= width


def test_its_day_line_is_seen_in_forced_colours(opened):
    opened.emulate_media(forced_colors="active")
    drawn = opened.locator(".plan-sheet svg > *").evaluate_all(
        "all => all.map(one => [getComputedStyle(one).fill, getComputedStyle(one).stroke])"
    )
    ink, paper = opened.evaluate(
        "[getComputedStyle(document.body).color, getComputedStyle(document.body).backgroundColor]"
    )
    assert ink != paper
    assert len(drawn) > 5
    assert all(ink in colours for colours in drawn), "black may be the ground"


def test_it_prints_on_one_page_and_nothing_of_the_planner_with_it(opened):
    made = opened.pdf(prefer_css_page_size=True)
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", made)) == 1
    opened.emulate_media(media="print")
    assert opened.get_by_role("heading", name="Get medical help at once for").is_visible()
    for hidden in (".mast", ".foot", ".identity", "text=Read it through with the patient"):
        assert not opened.locator(hidden).first.is_visible()


def test_the_page_of_the_job_is_accessible(opened, monkeypatch):
    if not pdf.available():
        pytest.skip("WeasyPrint or Pango is missing")
    opened.get_by_role("button", name="Make a PDF").click()
    opened.get_by_role("link", name="Look again").wait_for()
    assert Job.objects.filter(kind="plan-sheet").count() == 1
    assert Axe().run(opened).response["violations"] == []
