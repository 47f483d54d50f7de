"""The rules of passwords as Django asks for them: held against the lists, the sites, the person and their factors."""

from functools import cache

from allauth.mfa.models import Authenticator
from django.contrib.auth.password_validation import CommonPasswordValidator
from django.core.exceptions import ValidationError

from caseload.errors import Refusal
from caseload.models import Site, Staff
from caseload.parsing.passwords import ALONE, WITH_SECOND_FACTOR, refuse_unfit

FACTORS = (Authenticator.Type.TOTP, Authenticator.Type.WEBAUTHN)
"""What counts as a second factor; recovery codes only stand in for one."""


class Fit:
    def validate(self, password: str, user: Staff | None = None) -> None:
        own = [*Site.objects.values_list("name", flat=True), *([user.name, user.username, user.email] if user else [])]
        try:
            refuse_unfit(password, second_factor=bool(user and has_second_factor(user)), common=common(), own=own)
        except Refusal as refusal:
            raise ValidationError(refusal.message, code=refusal.code) from refusal

    def get_help_text(self) -> str:
        return f"{ALONE} characters or more, such as a few plain words; {WITH_SECOND_FACTOR} with a second factor."


@cache
def common() -> frozenset[str]:
    """Some 20,000 common passwords, which come with Django; nothing is asked of anybody outside."""
    return frozenset(CommonPasswordValidator().passwords)


def has_second_factor(staff: Staff) -> bool:
    return staff.pk is not None and Authenticator.objects.filter(user=staff.pk, type__in=FACTORS).exists()


def needs_second_factor(staff: Staff) -> bool:
    """A lead does, and whoever has a password that is too short to stand alone; nobody of the demo."""
    return not staff.demo and (staff.is_lead or staff.short_password)
