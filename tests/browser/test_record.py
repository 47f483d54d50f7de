"""The pages of the record in a real browser: silent for axe, usable from the keyboard, on paper and on a telephone."""

from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Page, expect

from caseload.actions import findings
from caseload.models import Episode, Region
from tests.scenario import Fernhollow, by, fernhollow

pytestmark = pytest.mark.browser


@pytest.fixture
def clinic(transactional_db: None) -> Fernhollow:
    clinic = fernhollow()
    Region.objects.update(covered_until=timezone.localdate() + timedelta(days=400))
    return clinic


@pytest.fixture
def episode(clinic: Fernhollow) -> Episode:
    """Twelve days after surgery, with a wound and a warning on record."""
    today = timezone.localdate()
    start = today - timedelta(days=12)
    person = clinic.patient(given="Marian", family="Oakshott", dressing_allergy="adhesive strips")
    episode = clinic.episode(person, surgery_on=start, today=start, raised_risk=True, risks=["diabetes"])
    flag = {"kind": "red-flag", "on": today, "note": "finger held bent"}
    wound = {"kind": "wound", "on": today, "wound": "not-closed"}
    findings.record_visit(episode, by=by(clinic.therapist, today), sayings=[wound, flag])
    return episode


@pytest.fixture
def signed_in(page: Page, clinic: Fernhollow, sign_in) -> Page:
    return sign_in(page, clinic.therapist)


def addresses(episode: Episode) -> list[str]:
    own, person = f"/episodes/{episode.code}/", f"/patients/{episode.patient.code}/"
    forms = (
        "findings/new/",
        "instructions/new/",
        "reviews/new/",
        "appointments/new/",
        "close/",
        "correct/",
        "contacts/new/",
    )
    return [
        own,
        person,
        "/patients/new/",
        f"{person}correct/",
        f"{person}episodes/new/",
        *(own + form for form in forms),
    ]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 1280])
def test_axe_reports_nothing_and_nothing_runs_over_the_edge(signed_in: Page, episode: Episode, width: int, scheme):
    signed_in.set_viewport_size({"width": width, "height": 900})
    signed_in.emulate_media(color_scheme=scheme)
    for address in addresses(episode):
        signed_in.goto(address)
        found = Axe().run(signed_in)
        assert found.violations_count == 0, f"{address}: {found.generate_report()}"
        over = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        assert signed_in.evaluate(over) <= 0, address


def test_a_typed_date_is_echoed_in_words_with_its_day(signed_in: Page, episode: Episode):
    signed_in.goto(f"/episodes/{episode.code}/findings/new/")
    signed_in.get_by_label("Day it was found").fill("yesterday")
    expect(signed_in.locator("#id_on_echo")).to_contain_text("day 11")
    signed_in.get_by_label("Day it was found").fill("31 feb")
    expect(signed_in.locator("#id_on_echo")).to_contain_text("February has")


def test_findings_are_recorded_from_the_keyboard_alone(signed_in: Page, episode: Episode):
    signed_in.goto(f"/episodes/{episode.code}/findings/new/")
    signed_in.get_by_label("Taken out").focus()
    signed_in.keyboard.type("4")
    signed_in.keyboard.press("Tab")
    signed_in.keyboard.type("0")
    for key in ("Tab", "Tab", "ArrowRight"):
        signed_in.keyboard.press(key)
    signed_in.keyboard.press("Enter")
    expect(signed_in.get_by_role("status")).to_contain_text("The findings are recorded.")
    assert set(episode.findings.values_list("kind", "wound")) >= {("stitches", ""), ("wound", "closed")}


def test_the_preview_is_in_view_and_nothing_is_lost(signed_in: Page, episode: Episode):
    signed_in.goto(f"/episodes/{episode.code}/correct/")
    signed_in.get_by_label("Surgery date").fill("-10")
    signed_in.get_by_role("button", name="See what changes").click()
    expect(signed_in.get_by_role("heading", name="What saving would change")).to_be_in_viewport()
    expect(signed_in.get_by_label("Surgery date")).to_have_value("-10")


def test_the_summary_of_errors_leads_to_the_field(signed_in: Page, episode: Episode):
    signed_in.goto(f"/episodes/{episode.code}/findings/new/")
    signed_in.get_by_label("Day it was found").fill("soon")
    signed_in.get_by_role("button", name="Save findings").click()
    signed_in.get_by_role("alert").get_by_role("link", name="Day it was found").click()
    expect(signed_in.get_by_label("Day it was found")).to_be_in_viewport()


def test_a_part_of_the_day_line_leads_to_its_reasons(signed_in: Page, episode: Episode):
    signed_in.goto(f"/episodes/{episode.code}/")
    reason = signed_in.locator("li", has_text="the wound was not closed (seen here), so it is looked at again.")
    expect(reason).to_be_hidden()
    signed_in.get_by_role("link", name="Wound re-check: ahead").focus()
    signed_in.keyboard.press("Enter")
    expect(reason).to_be_in_viewport()


def test_who_it_is_stays_in_view_and_on_paper(signed_in: Page, episode: Episode):
    signed_in.goto(f"/episodes/{episode.code}/")
    signed_in.evaluate("window.scrollTo(0, document.body.scrollHeight / 2)")
    expect(signed_in.get_by_text("OAKSHOTT, Marian")).to_be_in_viewport()
    signed_in.emulate_media(media="print")
    bar = signed_in.locator(".identity")
    expect(bar).to_be_visible()
    expect(bar).to_have_css("display", "table-header-group")  # a browser repeats it on every sheet
    expect(signed_in.get_by_role("link", name="Book an appointment")).to_be_hidden()


def test_the_record_works_without_script(chromium, live_server, signed_in: Page, episode: Episode):
    context = chromium.new_context(
        base_url=live_server.url, java_script_enabled=False, storage_state=signed_in.context.storage_state()
    )
    plain = context.new_page()
    plain.goto(f"/episodes/{episode.code}/findings/new/")
    plain.get_by_label("closed", exact=True).check()
    plain.get_by_role("button", name="Save findings").click()
    assert plain.get_by_text("The findings are recorded.").is_visible()
    context.close()
