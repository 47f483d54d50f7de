"""Links by which a person chooses a password without the old one. Each holds once: choosing a password and signing in
both change what its token is made of, and a newer invitation does too."""

from datetime import timedelta
from typing import Final

from django.contrib.auth.tokens import PasswordResetTokenGenerator
from django.urls import reverse
from django.utils.http import base36_to_int

from caseload.models import Staff

FORGOTTEN: Final = timedelta(hours=1)
INVITED: Final = timedelta(days=3)
"""No more than `PASSWORD_RESET_TIMEOUT`."""


class LinkTokens(PasswordResetTokenGenerator):
    def __init__(self, salt: str, holds: timedelta) -> None:
        super().__init__()
        self.key_salt, self.holds = f"caseload.web.set_password.{salt}", holds

    def check_token(self, user: Staff | None, token: str | None) -> bool:
        return super().check_token(user, token) and self._age(token or "") <= self.holds

    def _age(self, token: str) -> timedelta:
        made = base36_to_int(token.partition("-")[0])
        return timedelta(seconds=self._num_seconds(self._now()) - made)


class EveryToken:
    """Takes the token of either kind of link."""

    def check_token(self, user: Staff | None, token: str | None) -> bool:
        return any(tokens.check_token(user, token) for tokens in (forgotten, invited))


forgotten: Final = LinkTokens("forgotten", FORGOTTEN)
invited: Final = LinkTokens("invited", INVITED)


def link_to_set_password(staff: Staff) -> str:
    """The path of a page on which this person, and nobody else, chooses a password in place of one they forgot."""
    return _path(staff, forgotten)


def invitation_of(staff: Staff) -> str:
    """The same, given by a lead: for somebody new, or whose sign-in was reset."""
    return _path(staff, invited)


def _path(staff: Staff, tokens: LinkTokens) -> str:
    return reverse("set-password", args=[staff.code, tokens.make_token(staff)])
