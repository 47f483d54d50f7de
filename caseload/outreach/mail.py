"""E-mail into a folder instead of to a server: for the demo, for training, and to look at what would go out."""

import os
import tempfile
from collections.abc import Sequence
from pathlib import Path

from django.conf import settings
from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend


class FolderBackend(BaseEmailBackend):
    """One file for each message, named by its Message-ID: one sent again is there once. Only its owner reads it."""

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        folder = Path(settings.MAIL_FOLDER)
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        for message in email_messages:
            keep(message, folder)
        return len(email_messages)


def keep(message: EmailMessage, folder: Path) -> None:
    written = message.message()
    name = str(written["Message-ID"]).strip("<>").partition("@")[0]
    handle, fresh = tempfile.mkstemp(dir=folder)  # mkstemp makes the file readable by its owner only
    with os.fdopen(handle, "wb") as file:
        file.write(written.as_bytes())
    os.replace(fresh, folder / f"{name}.eml")
