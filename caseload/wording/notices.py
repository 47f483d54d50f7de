"""Notices in words: how far each is, when, and what was in its way."""

from collections.abc import Mapping
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

from caseload.booking.notices import Channel
from caseload.models import Notice, NoticeState
from caseload.wording.dates import say_instant

ERRORS: Final[Mapping[str, str | Promise]] = {
    "interrupted": lazy("sending was interrupted again and again"),
    "refused": lazy("the mail server refused it"),
    "unreachable": lazy("the mail server could not be reached"),
    "unwritten": lazy("it could not be written"),
}
SENT: Final[Mapping[str, str | Promise]] = {
    Channel.EMAIL: lazy("sent"), Channel.LETTER: lazy("posted"), Channel.CALL: lazy("rung"),
}  # fmt: skip


def say_state(notice: Notice) -> str:
    """How far it is: “waiting”, “to ring”, “printed, not posted yet”, “posted”, “could not be sent”…"""
    if notice.state == NoticeState.SENT:
        return str(SENT[notice.channel])
    if _maybe_sent(notice):
        return _("withdrawn while it was being sent: it may have gone out")
    if notice.state != NoticeState.WAITING:
        return NoticeState(notice.state).label
    if notice.batch_id:
        return _("printed, not posted yet")
    return _("to ring") if notice.channel == Channel.CALL else NoticeState.WAITING.label


def _maybe_sent(notice: Notice) -> bool:
    """Whether a process had it to send when it was withdrawn, and none ever recorded what came of that."""
    held = notice.channel == Channel.EMAIL and notice.claimed_until is not None and not notice.error
    return held and notice.state == NoticeState.WITHDRAWN


def say_when(notice: Notice) -> str:
    """When it went out or was withdrawn; from when it is due while it waits."""
    at = notice.sent_at or notice.withdrawn_at
    if at:
        return say_instant(at)
    due_at = {"when": say_instant(notice.due_at)}
    return (_("from %(when)s") if notice.state == NoticeState.WAITING else _("was due %(when)s")) % due_at


def say_error(error: str) -> str:
    """What was in its way, as it was recorded; empty for nothing."""
    return str(ERRORS.get(error, error))


def say_news_sent(notice: Notice) -> str:
    """What was written to somebody who is still to be told: “E-mail sent Wed 3 Apr 2026, 10:02”."""
    written = _("E-mail") if notice.channel == Channel.EMAIL else _("Letter")
    if notice.state == NoticeState.SENT and notice.sent_at:
        return _("%(written)s %(sent)s %(when)s") % {
            "written": written, "sent": say_state(notice), "when": say_instant(notice.sent_at),
        }  # fmt: skip
    if notice.state == NoticeState.FAILED:
        return _("%(written)s could not be sent: %(error)s") % {"written": written, "error": say_error(notice.error)}
    if notice.channel == Channel.LETTER:
        return _("Letter printed, not posted yet") if notice.batch_id else _("Letter to be printed")
    return _("E-mail waits, %(when)s") % {"when": say_when(notice)}
