"""Signing in with a real browser and the passkeys of a virtual device (WebAuthn Level 3, section 11, over the
browser's own protocol), and the page that leaves the screen when nobody uses it."""

from collections.abc import Iterator

import pytest
from allauth.mfa.models import Authenticator
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

from caseload.models import Draft
from caseload.web.sealed_sessions import SessionStore
from caseload.web.staying import SEEN
from tests.scenario import Fernhollow

pytestmark = pytest.mark.browser
PASSWORD = "seven soft bandages"
DEVICE = {
    "protocol": "ctap2", "transport": "internal", "hasResidentKey": True, "hasUserVerification": True,
    "isUserVerified": True,
}  # fmt: skip


@pytest.fixture
def device(page: Page) -> Iterator[Page]:
    """A browser whose computer keeps passkeys."""
    asked = page.context.new_cdp_session(page)
    asked.send("WebAuthn.enable")
    asked.send("WebAuthn.addVirtualAuthenticator", {"options": DEVICE})
    page.set_viewport_size({"width": 390, "height": 844})
    yield page


@pytest.fixture
def lead(clinic: Fernhollow, settings):
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    clinic.lead.set_password(PASSWORD)
    clinic.lead.save()
    return clinic.lead


def is_clean(page: Page) -> None:
    found = Axe().run(page)
    assert found.violations_count == 0, f"{page.url}: {found.generate_report()}"
    assert page.evaluate("document.documentElement.scrollWidth") == 390, page.url


def sign_in(page: Page, name: str) -> None:
    page.goto("/sign-in/")
    page.get_by_label("Name").fill(name)
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Sign in", exact=True).click()


def test_a_lead_adds_a_passkey_and_signs_in_with_it_alone(device: Page, lead):
    sign_in(device, lead.username)
    expect(device).to_have_title("Set up a second factor – Caseload planner")
    is_clean(device)
    device.get_by_role("link", name="A passkey").click()
    is_clean(device)
    device.get_by_label("What to call it").fill("Desk at Fernhollow")
    device.get_by_role("button", name="Add it").click()
    expect(device.get_by_role("heading", name="Recovery codes")).to_be_visible()
    is_clean(device)
    assert Authenticator.objects.filter(user=lead, type="webauthn").count() == 1
    device.get_by_role("button", name="Sign out").click()
    device.get_by_role("button", name="Sign in with a passkey").click()
    expect(device.get_by_role("heading", name="Overdue")).to_be_visible()
    sign_in_by_both(device, lead.username)
    every_page_is_clean(device)


def sign_in_by_both(page: Page, name: str) -> None:
    page.get_by_role("button", name="Sign out").click()
    sign_in(page, name)
    expect(page.get_by_role("heading", name="Second factor")).to_be_visible()
    is_clean(page)
    page.get_by_role("button", name="Use a passkey").click()
    expect(page.get_by_role("heading", name="Overdue")).to_be_visible()


def every_page_is_clean(page: Page) -> None:
    for place in ("", "password/", "app/", "recovery-codes/new/", "sessions/", "again/", "again/passkey/"):
        page.goto(f"/your-sign-in/{place}")
        is_clean(page)


def idle(page: Page, session: str) -> None:
    """Nobody has used the session, nor the page, for a quarter of an hour."""
    store = SessionStore(session)
    store[SEEN] -= 16 * 60
    store.save()
    page.clock.fast_forward("16:00")


def test_a_page_that_nobody_uses_leaves_the_screen_and_what_was_typed_comes_back(page: Page, clinic, settings):
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    clinic.therapist.set_password(PASSWORD)
    clinic.therapist.save()
    page.clock.install()
    sign_in(page, clinic.therapist.username)
    page.wait_for_url("**/today/")
    page.goto(f"/episodes/{clinic.episode().code}/visit/")
    page.locator("[name=note]").fill("typed before lunch")
    idle(page, next(cookie["value"] for cookie in page.context.cookies() if cookie["name"] == "session"))
    expect(page.get_by_role("heading", name="Locked")).to_be_visible()
    assert Draft.objects.filter(staff=clinic.therapist).exists()
    page.get_by_label("Your password").fill(PASSWORD)
    page.get_by_role("button", name="Go on").click()
    expect(page.locator("[name=note]")).to_have_value("typed before lunch")


def test_after_a_wrong_password_the_next_key_goes_into_the_password(device: Page, lead):
    device.goto("/sign-in/")
    expect(device.get_by_label("Name")).to_be_focused()
    device.get_by_label("Name").fill(lead.username)
    device.get_by_label("Password").fill("not this one")
    device.get_by_role("button", name="Sign in", exact=True).click()
    expect(device.locator("#errors")).to_contain_text("do not belong together")
    expect(device.get_by_label("Password", exact=True)).to_be_focused()
    expect(device.get_by_label("Name")).to_have_value(lead.username)
    is_clean(device)
