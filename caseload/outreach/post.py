"""Sending a notice by e-mail: claimed, asked once more whether it still applies, written, sent, recorded.

Decided here:
- At least once, and always under the same Message-ID, which is made of the key of the notice: a process that is killed
  between sending and recording leaves a claim that runs out, and the message goes out once more as the same message.
- Recorded once, however often it was sent (`actions.notices`).
- A server that refuses the message for good (RFC 5321, section 4.2.1: a reply from 500 on) ends its sending. Anything
  else may pass: a server that is away, slow, or says "not now", and a fault of our own. Each is a try, and those end.
- No line of the log says who, what or to which address.
"""

import logging
from datetime import datetime
from email.utils import format_datetime
from enum import StrEnum
from hashlib import sha256
from smtplib import SMTPDataError, SMTPRecipientsRefused
from typing import Final

from django.core.mail import EmailMessage
from django.utils import timezone

from caseload.actions import notices
from caseload.actions.act import By
from caseload.actions.in_step import NO_LONGER
from caseload.errors import Refusal
from caseload.models import Notice
from caseload.outreach.letters import compose

LASTING: Final = 500
"""Replies from here on are for good."""
SERVICE: Final = "caseload.invalid"
"""Stands where a Message-ID has its host (RFC 2606): ours are unique by their first half, and tell nothing."""

log = logging.getLogger("caseload.post")


class Came(StrEnum):
    """What came of a notice: the last three are words for `Notice.error`."""

    SENT = "sent"
    WITHDRAWN = "withdrawn"
    REFUSED = "refused"
    UNREACHABLE = "unreachable"
    UNWRITTEN = "unwritten"


def send_due(limit: int) -> list[Came]:
    """Send e-mails that are due, the oldest first, until the server cannot be reached; what came of each."""
    found: list[Came] = []
    for notice_id in notices.due_ids(limit, timezone.now()):
        came = send_notice(notice_id)
        found += [came] if came else []
        if came is Came.UNREACHABLE:
            break
    return found


def send_notice(notice_id: int) -> Came | None:
    """Claim a notice and send it; None if somebody else has it, or it is over."""
    notice = notices.claim(notice_id, timezone.now())
    if notice is None:
        return None
    if not notices.still_wanted(notice):
        return _withdrawn(notice)
    try:
        message = write(notice, timezone.now())
        message.send()
    except OSError as error:  # everything of smtplib is one
        return _failed(notice, _lasting(error))
    except Exception:
        log.exception("A notice could not be written")
        return _failed(notice, Came.UNWRITTEN)
    notices.record_sent(notice, by=_planner(), to=message.to[0], text=str(message.body))
    return Came.SENT


def write(notice: Notice, now: datetime) -> EmailMessage:
    """The message as it goes out. It says that a machine wrote it (RFC 3834), so that no machine answers."""
    said = compose(notice)
    headers = {
        "Message-ID": message_id(notice.key), "Date": format_datetime(now), "Auto-Submitted": "auto-generated",
    }  # fmt: skip
    return EmailMessage(said.subject, said.body, to=[notice.patient.email], headers=headers)


def message_id(key: str) -> str:
    """The same for the same key, from which nothing can be read."""
    return f"<{sha256(key.encode()).hexdigest()[:32]}@{SERVICE}>"


def _withdrawn(notice: Notice) -> Came:
    try:
        notices.withdraw(notice, by=_planner(), why=NO_LONGER)
    except Refusal:
        log.debug("A notice was over before it could be withdrawn")
    return Came.WITHDRAWN


def _lasting(error: OSError) -> Came:
    """Whether a server refused this message for good, or could not take it now."""
    if isinstance(error, SMTPRecipientsRefused):
        codes = [int(code) for code, _said in error.recipients.values()]
    else:
        codes = [int(error.smtp_code)] if isinstance(error, SMTPDataError) else []
    return Came.REFUSED if codes and min(codes) >= LASTING else Came.UNREACHABLE


def _failed(notice: Notice, came: Came) -> Came:
    log.warning("A notice did not go out: %s", came)
    notices.record_failure(notice, by=_planner(), error=came, lasting=came is Came.REFUSED)
    return came


def _planner() -> By:
    now = timezone.now()
    return By(None, now, timezone.localdate(now), origin="background")
