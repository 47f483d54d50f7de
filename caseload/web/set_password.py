"""Links by which a person chooses a password without the old one: forgotten, or invited. Each holds once, for an hour
(`PASSWORD_RESET_TIMEOUT`): choosing a password and signing in both change what the token is made of."""

from typing import Final

from django.contrib.auth.tokens import PasswordResetTokenGenerator
from django.urls import reverse

from caseload.models import Staff


class LinkTokens(PasswordResetTokenGenerator):
    key_salt = "caseload.web.set_password"


tokens: Final = LinkTokens()


def link_to_set_password(staff: Staff) -> str:
    """The path of a page on which this person, and nobody else, chooses a password."""
    return reverse("set-password", args=[staff.code, tokens.make_token(staff)])
