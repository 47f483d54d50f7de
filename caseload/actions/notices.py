"""Notices kept in step with the appointments they are about, and what became of each.

`keep_in_step` is to notices what `settle` is to dates: derive what is wanted, compare, write only what moved. It runs
in the transaction of whatever act changed an appointment. Sending is done elsewhere (`outreach.post`): it claims a
row, and records here what came of it, once.
"""

from collections.abc import Iterable
from datetime import datetime

from caseload.access import Act
from caseload.actions.act import By, act
from caseload.models import Notice

NOT_YET = "contract only"


def keep_in_step(appointments: Iterable[int], *, by: By) -> int:
    """Make the waiting notices of some appointments those that are wanted; give back how many rows moved."""
    raise NotImplementedError(NOT_YET)


def still_wanted(notice: Notice) -> bool:
    """Whether a waiting notice still applies, derived anew: asked once more just before it goes out."""
    raise NotImplementedError(NOT_YET)


def due_ids(limit: int, now: datetime) -> list[int]:
    """E-mails that are due and that nobody has claimed, oldest first."""
    raise NotImplementedError(NOT_YET)


def claim(notice_id: int, now: datetime) -> Notice | None:
    """Take a due e-mail for two minutes by one conditional update; None if somebody else has it or it is over."""
    raise NotImplementedError(NOT_YET)


@act(Act.NOTICE_SEND)
def record_sent(notice: Notice, *, by: By, to: str, text: str) -> Notice:
    """It went out: recorded once, however often it was sent, even if it was withdrawn meanwhile."""
    raise NotImplementedError(NOT_YET)


@act(Act.NOTICE_SEND)
def record_failure(notice: Notice, *, by: By, error: str, lasting: bool) -> Notice:
    """It did not go out. Tried again later; where that is `lasting`, or after the last try, a reminder goes to the call
    list and news, whose patient is untold and on that list already, counts as failed."""
    raise NotImplementedError(NOT_YET)


@act(Act.NOTICE_CALL)
def log_call(notice: Notice, *, by: By, reached: str, text: str = "") -> Notice:
    """A reminder by telephone: reached or a message left ends it, anything else leaves it on the list."""
    raise NotImplementedError(NOT_YET)


@act(Act.NOTICE_WITHDRAW)
def withdraw(notice: Notice, *, by: By, why: str) -> Notice:
    """Somebody decides that it is not to go out; it is not made again."""
    raise NotImplementedError(NOT_YET)
