"""The page of a visit in a real browser: silent for axe, one column on a telephone, shown as typed, saved by keys."""

from datetime import timedelta

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.utils import timezone
from playwright.sync_api import Page, expect

from caseload.models import Episode, Visit
from tests.scenario import Fernhollow

pytestmark = pytest.mark.browser


@pytest.fixture
def hand(clinic: Fernhollow):
    """Makes an episode thirteen days after surgery."""

    def made(patient=None, **facts) -> Episode:
        start = timezone.localdate() - timedelta(days=13)
        return clinic.episode(patient, surgery_on=start, today=start, **facts)

    return made


@pytest.fixture
def episode(clinic: Fernhollow, hand) -> Episode:
    return hand(clinic.patient(given="Marian", family="Oakshott", dressing_allergy="adhesive strips"))


@pytest.fixture
def signed_in(page: Page, clinic: Fernhollow, sign_in) -> Page:
    return sign_in(page, clinic.therapist)


def address(*episodes: Episode) -> str:
    also = "&".join(f"also={episode.code}" for episode in episodes[1:])
    return f"/episodes/{episodes[0].code}/visit/?{also}"


@pytest.mark.parametrize(("width", "scheme"), [(390, "dark"), (1280, "light")])
def test_axe_reports_nothing_and_nothing_runs_over_the_edge(
    signed_in: Page, clinic: Fernhollow, episode: Episode, hand, width: int, scheme
):
    child = clinic.patient(born_on=timezone.localdate() - timedelta(days=4000))
    pages = [
        address(episode, hand(episode.patient, digit="index")),
        address(hand(child, digit="thumb", suture="absorbable", stitches_in=None)),
    ]
    signed_in.set_viewport_size({"width": width, "height": 900})
    signed_in.emulate_media(color_scheme=scheme)
    for each in pages:
        signed_in.goto(each)
        for button in (None, "See what changes"):
            if button:
                signed_in.get_by_role("button", name=button).click()
            found = Axe().run(signed_in)
            assert found.violations_count == 0, f"{each}: {found.generate_report()}"
            over = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
            assert signed_in.evaluate(over) <= 0, each


def test_what_saving_changes_is_shown_as_it_is_typed_and_saved_with_one_press(signed_in: Page, episode: Episode):
    signed_in.goto(address(episode))
    signed_in.get_by_label("Taken out").fill("4")
    signed_in.get_by_label("Left in").fill("0")
    signed_in.get_by_label("closed", exact=True).check()
    signed_in.get_by_label("continue as timetabled").check()
    panel = signed_in.locator("#changes")
    expect(panel).to_contain_text("Stitches out: done")
    signed_in.get_by_role("button", name="Save the visit").click()
    expect(signed_in.get_by_text("The visit is recorded.")).to_be_visible()
    assert Visit.objects.get().examined.get().episode == episode


def test_what_was_wrong_is_said_at_its_field_until_it_is_typed_over(signed_in: Page, episode: Episode):
    signed_in.goto(address(episode))
    signed_in.get_by_label("Pain, 0 to 10").fill("14")
    signed_in.get_by_role("button", name="See what changes").click()
    assert signed_in.locator("form .wrong").count() == 2
    signed_in.get_by_label("Pain, 0 to 10").fill("4")
    expect(signed_in.locator("form .wrong")).to_have_text(["Say what is to happen next with this finger."])
    assert signed_in.get_by_label("Pain, 0 to 10").get_attribute("aria-invalid") is None
    signed_in.get_by_label("continue as timetabled").check()
    expect(signed_in.locator("form .wrong")).to_have_count(0)


def test_a_visit_is_recorded_from_the_keyboard_alone(signed_in: Page, episode: Episode):
    signed_in.goto(address(episode))
    signed_in.get_by_label("Taken out").focus()
    for key in ("4", "Tab", "0", "Tab", "Tab", "ArrowRight"):
        signed_in.keyboard.press(key)
    expect(signed_in.get_by_label("closed", exact=True)).to_be_checked()
    signed_in.get_by_label("continue as timetabled").focus()
    signed_in.keyboard.press("Space")
    expect(signed_in.locator("#changes")).to_contain_text("Scar massage")
    signed_in.keyboard.press("Enter")
    expect(signed_in.get_by_text("The visit is recorded.")).to_be_visible()


def test_without_script_two_presses_record_it(chromium, live_server, signed_in: Page, episode: Episode):
    context = chromium.new_context(
        base_url=live_server.url, java_script_enabled=False, storage_state=signed_in.context.storage_state()
    )
    plain = context.new_page()
    plain.goto(address(episode))
    plain.get_by_label("closed", exact=True).check()
    plain.get_by_label("continue as timetabled").check()
    plain.get_by_role("button", name="See what changes").click()
    assert plain.get_by_role("heading", name="What saving changes").is_visible()
    plain.get_by_role("button", name="Save the visit").click()
    assert plain.get_by_text("The visit is recorded.").is_visible()
    context.close()
