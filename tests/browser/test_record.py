"""The pages of the record in a real browser: silent for axe, usable from the keyboard, on paper and on a telephone."""

from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Page, expect

from caseload.actions import findings, instructions, visits
from caseload.models import Episode
from caseload.timetable.terms import AfterVisit
from caseload.wording import say_date
from tests.scenario import Fernhollow, by

pytestmark = pytest.mark.browser


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
def eventful(clinic: Fernhollow, episode: Episode) -> Episode:
    """The same with everything that waits or was taken back: two flags, a report, a withdrawn visit, an instruction."""
    today, who = timezone.localdate(), by(clinic.therapist, timezone.localdate())
    findings.escalate(episode.findings.get(kind="red-flag"), by=who, to="hand surgeon on call")
    index = clinic.episode(episode.patient, surgery_on=episode.surgery_on, today=episode.surgery_on, digit="index")
    findings.record(index, by=who, kind="red-flag", on=today, note="new numbness")
    report = {"source": "reported", "reported_by": "Nurse Lind", "stitches_out": 4, "stitches_left": 0}
    findings.record(episode, by=who, kind="stitches", on=today, **report)
    look = visits.Look(episode, AfterVisit.REVIEW, in_days=14, findings=[{"kind": "wound", "wound": "concern"}])
    visits.withdraw(visits.record(episode.patient, by=who, on=today, looks=[look]), by=who, why="another patient")
    visits.record(episode.patient, by=who, on=today, looks=[look], taught="bending")
    instructions.give(episode, by=who, item="driving", by_whom="Dr Wren", why="swelling", from_day=9)
    return episode


@pytest.fixture
def signed_in(page: Page, clinic: Fernhollow, sign_in) -> Page:
    return sign_in(page, clinic.therapist)


def addresses(episode: Episode) -> list[str]:
    own, person = f"/episodes/{episode.code}/", f"/patients/{episode.patient.code}/"
    forms = (
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


@pytest.mark.parametrize(("width", "scheme"), [(390, "dark"), (1280, "light")])
def test_axe_reports_nothing_and_nothing_runs_over_the_edge(signed_in: Page, episode: Episode, width: int, scheme):
    signed_in.set_viewport_size({"width": width, "height": 900})
    signed_in.emulate_media(color_scheme=scheme)
    for address in addresses(episode):
        signed_in.goto(address)
        found = Axe().run(signed_in)
        assert found.violations_count == 0, f"{address}: {found.generate_report()}"
        over = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        assert signed_in.evaluate(over) <= 0, address


@pytest.mark.parametrize(("width", "scheme"), [(390, "dark"), (1280, "light")])
def test_what_waits_and_what_was_taken_back_is_silent_for_axe(signed_in: Page, eventful: Episode, width: int, scheme):
    signed_in.set_viewport_size({"width": width, "height": 900})
    signed_in.emulate_media(color_scheme=scheme)
    own, flag = f"/episodes/{eventful.code}/", eventful.findings.get(kind="red-flag")
    review = eventful.reviews.get(withdrawn_at__isnull=True)
    forms = (
        "", f"findings/{flag.pk}/close/", f"findings/{flag.pk}/escalate/", f"reviews/{review.pk}/withdraw/",
        f"instructions/{eventful.instructions.get().pk}/withdraw/", "instructions/new/",
    )  # fmt: skip
    for address in (*(own + form for form in forms), f"/patients/{eventful.patient.code}/", "/today/"):
        signed_in.goto(address)
        found = Axe().run(signed_in)
        assert found.violations_count == 0, f"{address}: {found.generate_report()}"
        over = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        assert signed_in.evaluate(over) <= 0, address


def test_a_day_after_surgery_is_echoed_as_a_date(signed_in: Page, episode: Episode):
    signed_in.goto(f"/episodes/{episode.code}/instructions/new/")
    signed_in.get_by_label("Latest day").fill("0")
    expect(signed_in.locator("#id_latest_echo")).to_have_text(say_date(episode.surgery_on))


def test_a_typed_date_is_echoed_in_words_with_its_day(signed_in: Page, episode: Episode):
    signed_in.goto(f"/episodes/{episode.code}/reviews/new/")
    signed_in.get_by_label("Counted from the visit on").fill("yesterday")
    expect(signed_in.locator("#id_on_echo")).to_contain_text("day 11")
    signed_in.get_by_label("Counted from the visit on").fill("31 feb")
    expect(signed_in.locator("#id_on_echo")).to_contain_text("February has")


def test_the_keyboard_never_stops_where_nothing_is_seen(signed_in: Page, clinic: Fernhollow):
    signed_in.goto("/today/")
    signed_in.get_by_label("Find a patient").focus()
    signed_in.keyboard.press("Tab")
    expect(signed_in.get_by_role("link", name=clinic.therapist.name)).to_be_focused()


def test_a_red_flag_is_passed_on_from_the_keyboard_alone(signed_in: Page, episode: Episode):
    signed_in.goto(f"/patients/{episode.patient.code}/")
    signed_in.get_by_role("link", name="Record only whom it went to").focus()
    signed_in.keyboard.press("Enter")
    signed_in.get_by_label("Escalated to").focus()
    signed_in.keyboard.type("hand surgeon on call")
    signed_in.keyboard.press("Enter")
    expect(signed_in.get_by_role("status")).to_contain_text("The red flag stays open.")
    expect(signed_in.get_by_text("the outcome is still open")).to_be_visible()


def test_the_preview_is_in_view_and_nothing_is_lost(signed_in: Page, episode: Episode):
    signed_in.goto(f"/episodes/{episode.code}/correct/")
    signed_in.get_by_label("Surgery date").fill("-10")
    signed_in.get_by_role("button", name="See what changes").click()
    expect(signed_in.get_by_role("heading", name="What saving changes")).to_be_in_viewport()
    expect(signed_in.get_by_label("Surgery date")).to_have_value("-10")


def test_the_summary_of_errors_leads_to_the_field(signed_in: Page, episode: Episode):
    signed_in.goto(f"/episodes/{episode.code}/reviews/new/")
    signed_in.get_by_label("Counted from the visit on").fill("soon")
    signed_in.get_by_role("button", name="Set the review").click()
    expect(signed_in.locator("#errors")).to_be_focused()
    signed_in.locator("#errors").get_by_role("link", name="Counted from the visit on").click()
    expect(signed_in.get_by_label("Counted from the visit on")).to_be_in_viewport()


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
    plain.goto(f"/episodes/{episode.code}/")
    plain.get_by_role("link", name="Say whom it went to and how it ended").click()
    plain.get_by_label("Escalated to").fill("Dr Wren")
    plain.get_by_label("Outcome").fill("seen the same day, well")
    plain.get_by_role("button", name="Close it").click()
    assert plain.get_by_text("The red flag is closed.").is_visible()
    context.close()


def test_on_paper_what_is_not_needed_any_more_is_unfolded(signed_in: Page, clinic: Fernhollow, episode: Episode):
    today = timezone.localdate()
    some = {"kind": "stitches", "on": today, "stitches_out": 2, "stitches_left": 2}
    findings.record_visit(episode, by=by(clinic.therapist, today), sayings=[some])
    signed_in.goto(f"/episodes/{episode.code}/")
    folded = signed_in.locator("details:has(> summary:text('Not needed any more')) li").first
    seen = "each => each.checkVisibility({contentVisibilityAuto: true})"
    assert not folded.evaluate(seen)
    signed_in.emulate_media(media="print")
    assert folded.evaluate(seen) and folded.bounding_box()["height"] > 0
