"""Notices kept in step with the appointments they are about.

`keep_in_step` is to notices what `settle` is to dates: derive what is wanted, compare, write only what moved. It runs
in the transaction of whatever act changed an appointment or how a patient is reached, after everything else of it:
notices are locked last.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Final

from caseload.actions.act import By
from caseload.actions.pending import pending
from caseload.actions.rewriting import insert, rewrite
from caseload.booking.notices import Channel, Wanted
from caseload.models import Appointment, Notice, NoticeState
from caseload.reads.notices_wanted import key_of, wanted_of, with_patients

BATCH: Final = 500
NO_LONGER: Final = "no longer applies"
MOVED: Final = (
    "channel", "state", "due_at", "until_at", "claimed_until", "tries", "error", "withdrawn_at", "withdrawn_why",
)  # fmt: skip
Moved = dict[str, tuple[object, object]]


@dataclass
class Writes:
    """What keeping some appointments in step would write; `said` tells each as (was, now) by its key, in words, under
    the code of its appointment."""

    new: list[Notice] = field(default_factory=list)
    moved: list[Notice] = field(default_factory=list)
    said: dict[str, Moved] = field(default_factory=lambda: defaultdict(dict))

    def move(self, appointment: Appointment, notice: Notice, was: str) -> None:
        (self.moved if notice.pk else self.new).append(notice)
        self.said[appointment.code][notice.key] = (was, _said(notice))


def keep_in_step(appointments: Iterable[int], *, by: By) -> int:
    """Make the waiting notices of some appointments those that are wanted; give back how many rows moved.

    A constant number of queries for each batch. While acts are carried out together, it is done at their end.
    """
    left = pending.get()
    if left is None:
        return bring_in_step(appointments, by.at)
    left.leave_notices(appointments, by.at)
    return 0


def bring_in_step(appointments: Iterable[int], now: datetime) -> int:
    """The same at once, as of an instant: what would have been over by then is not made."""
    keys, moved = sorted(set(appointments)), 0
    for start in range(0, len(keys), BATCH):
        writes = compare(keys[start : start + BATCH], now)
        write(writes)
        moved += len(writes.new) + len(writes.moved)
    return moved


def compare(appointments: Sequence[int], now: datetime) -> Writes:
    """What is stored of some appointments against what is wanted; locks both. Writes nothing."""
    writes = Writes()
    found = with_patients(Appointment.objects.filter(pk__in=appointments))
    rows = list(found.select_for_update(of=("self",), no_key=True))
    wanted = wanted_of(rows) if rows else {}
    stored = _stored([row.pk for row in rows]) if rows else {}
    for row in rows:
        notices = {notice.key: notice for notice in stored.get(row.pk, ())}
        _compare_one(writes, row, {key_of(row, one): one for one in wanted[row.pk]}, notices, now)
    return writes


def write(writes: Writes) -> None:
    insert(writes.new)
    rewrite(writes.moved, MOVED)


def let_go(appointment: Appointment, *, by: By) -> None:
    """The appointment is taken away: what waits of it is withdrawn."""
    waiting = Notice.objects.filter(appointment=appointment, state=NoticeState.WAITING)
    waiting.update(state=NoticeState.WITHDRAWN, withdrawn_at=by.at, withdrawn_why=NO_LONGER)


def gave_up(notice: Notice, one: Wanted) -> bool:
    """Whether an e-mail could not be sent and is rung instead: it stays so, whatever is wanted."""
    return notice.channel == Channel.CALL and one.channel == Channel.EMAIL and notice.error != ""


def _stored(appointments: Sequence[int]) -> Mapping[int, list[Notice]]:
    found: dict[int, list[Notice]] = defaultdict(list)
    for row in Notice.objects.select_for_update(no_key=True).filter(appointment__in=appointments).order_by("pk"):
        found[row.appointment_id or 0].append(row)
    return found


def _compare_one(
    writes: Writes, row: Appointment, wanted: Mapping[str, Wanted], stored: Mapping[str, Notice], now: datetime
) -> None:
    """What is over by now is neither made nor made again; what waits past its end is `withdraw_expired`'s."""
    for key, one in wanted.items():
        notice = stored.get(key) or Notice(key=key, kind=one.kind, appointment=row, patient=row.patient, made_at=now)
        waits = notice.pk and notice.state == NoticeState.WAITING
        was = _said(notice) if notice.pk else ""
        if (waits or one.until_at > now) and _take(notice, one):
            writes.move(row, notice, was)
    for key, notice in stored.items():
        if key not in wanted and notice.state == NoticeState.WAITING:
            was = _said(notice)
            notice.state, notice.withdrawn_at, notice.withdrawn_why = NoticeState.WITHDRAWN, now, NO_LONGER
            writes.move(row, notice, was)


def _take(notice: Notice, one: Wanted) -> bool:
    """Make a notice the one that is wanted; False if it is, or if what became of it stands: it went out, failed, or
    somebody withdrew it. A letter that is printed stays a letter."""
    if notice.state in (NoticeState.SENT, NoticeState.FAILED) or notice.withdrawn_by_id:
        return False
    channel = notice.channel if notice.batch_id or gave_up(notice, one) else one.channel
    values = (channel, NoticeState.WAITING, one.due_at, one.until_at)
    if values == (notice.channel, notice.state, notice.due_at, notice.until_at):
        return False
    if channel != notice.channel:
        notice.tries, notice.error, notice.claimed_until = 0, "", None
    notice.channel, notice.state, notice.due_at, notice.until_at = values
    notice.withdrawn_at, notice.withdrawn_why = None, ""
    return True


def _said(notice: Notice) -> str:
    return (
        f"{notice.state} by {notice.channel} from {notice.due_at:%Y-%m-%d %H:%M} until {notice.until_at:%Y-%m-%d %H:%M}"
    )
