"""How somebody on the staff stands to signing in, and what they sign in as."""

import re
from enum import StrEnum
from typing import Final

from caseload.errors import Refusal
from caseload.parsing import quoted, tidy

_USERNAME: Final = re.compile(r"[a-z0-9](?:[a-z0-9._\-]{0,58}[a-z0-9])?")


class Presence(StrEnum):
    INVITED = "invited"
    ACTIVE = "active"
    WITHOUT_PASSWORD = "without-password"
    GONE = "gone"


def presence_of(*, active: bool, password: bool, came_before: bool) -> Presence:
    """`password`: whether there is one to sign in with; `came_before`: whether they have ever signed in."""
    if not active:
        return Presence.GONE
    if password:
        return Presence.ACTIVE
    return Presence.WITHOUT_PASSWORD if came_before else Presence.INVITED


def read_username(text: str) -> str:
    """What somebody signs in as, in small letters. Raises Refusal `username-unreadable`."""
    typed = tidy(text).lower()
    if not _USERNAME.fullmatch(typed):
        remedy = "use letters a to z, digits, and between them a dot, hyphen or underscore; 60 at the most"
        raise Refusal("username-unreadable", f"{quoted(text)} cannot be a user name: {remedy}.", field="username")
    return typed
