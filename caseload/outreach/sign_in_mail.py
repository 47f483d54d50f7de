"""E-mails with a link under which somebody on the staff chooses a password. None names a person in its subject."""

import logging
from smtplib import SMTPException
from threading import Thread
from typing import Final
from uuid import uuid4

from django.core.mail import EmailMessage

from caseload.outreach.post import SERVICE

SUBJECT: Final = "A new password for the planner"
TEXT: Final = """Somebody, you we hope, asked for a new password for the planner.

Choose it here, within an hour:

{address}

The address works once. If it was not you, do nothing: your password stays as it is. Tell your lead if this comes again.
"""
GIVEN: Final = "Your sign-in to the planner"
GIVEN_TEXT: Final = """A lead of your service gave you this link to sign in to the planner.

You sign in as: {username}

Choose a password here, within three days:

{address}

The address works once. Pass it on to nobody. If you do not know what this is about, ask your lead before you open it.
"""

log = logging.getLogger("caseload.post")


def send_link(to: str, address: str) -> None:
    """To whoever forgot a password."""
    _post(SUBJECT, TEXT.format(address=address), to)


def send_given(to: str, address: str, username: str) -> None:
    """To whoever was invited, or whose sign-in a lead reset."""
    _post(GIVEN, GIVEN_TEXT.format(address=address, username=username), to)


def _post(subject: str, text: str, to: str) -> None:
    """Send it beside the page that was asked: how long a mail server takes would tell who is known here."""
    headers = {"Message-ID": f"<{uuid4().hex}@{SERVICE}>", "Auto-Submitted": "auto-generated"}
    message = EmailMessage(subject, text, to=[to], headers=headers)
    Thread(target=_send, args=(message,), daemon=True).start()


def _send(message: EmailMessage) -> None:
    """Nobody waits for this: whoever gets nothing asks again. The log does not say who or where to."""
    try:
        message.send()
    except (OSError, SMTPException):
        log.warning("A link to a new password could not be sent.", exc_info=False)
