"""Sessions whose rows nobody reads without the secret key: what they carry from page to page, such as the name that a
list is narrowed to or that a notice tells of, stands nowhere in the clear but in the tables of the record.
"""

import base64
import hashlib
from functools import cache
from typing import Any

from cryptography.fernet import Fernet, InvalidToken
from django.conf import settings
from django.contrib.sessions.backends.db import SessionStore as Stored


class SessionStore(Stored):
    def encode(self, session_dict: dict[str, Any]) -> str:
        return _key(settings.SECRET_KEY).encrypt(self.serializer().dumps(session_dict)).decode()

    def decode(self, session_data: bytes | str) -> dict[str, Any]:
        """What another key has sealed, or nobody, is an empty session: its person signs in anew."""
        try:
            found: dict[str, Any] = self.serializer().loads(_key(settings.SECRET_KEY).decrypt(session_data))
        except (InvalidToken, ValueError):
            return {}
        return found


@cache
def _key(secret: str) -> Fernet:
    return Fernet(base64.urlsafe_b64encode(hashlib.sha256(f"caseload.web.sessions {secret}".encode()).digest()))
