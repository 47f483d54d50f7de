"""What the tests of signing in share: a person with a password, codes of an app, and what the trail says."""

from datetime import UTC, datetime

import time_machine
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.internal.auth import TOTP, format_hotp_value, hotp_value
from django.test import Client

from caseload.models import Staff, TrailEntry

PASSWORD = "seven soft bandages"
# RFC 6238, appendix B: the secret of its test values in SHA-1, 1234567890 twice, in base 32 (RFC 4648).
SECRET = "GEZDGNBVGY3TQOJQGEZDGNBVGY3TQOJQ"


def known(staff: Staff, password: str = PASSWORD) -> Staff:
    """The same person with a password that the tests know."""
    staff.set_password(password)
    staff.save()
    return staff


def with_app(staff: Staff) -> Staff:
    """The same with codes of an app."""
    TOTP.activate(staff, SECRET)
    return staff


def code(at: datetime, secret: str = SECRET) -> str:
    return format_hotp_value(hotp_value(secret, int(at.timestamp()) // 30))


def enter(client: Client, staff: Staff, password: str = PASSWORD, **more: str):
    return client.post("/sign-in/", {"username": staff.username, "password": password} | more)


def trail() -> list[tuple[str, int | None, int | None]]:
    """Act, who did it, and whom it was about, the first first."""
    return list(TrailEntry.objects.order_by("pk").values_list("act", "by", "subject_id"))


def later(minutes: float, of: datetime) -> time_machine.travel:
    return time_machine.travel(datetime.fromtimestamp(of.timestamp() + minutes * 60, UTC), tick=False)


def factors(staff: Staff) -> list[str]:
    return sorted(Authenticator.objects.filter(user=staff).values_list("type", flat=True))
