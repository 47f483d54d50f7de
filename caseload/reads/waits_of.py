"""The waits of one patient, derived on reading, with why each began, stopped or still runs."""

from collections.abc import Iterable
from datetime import date
from typing import NamedTuple

from django.utils.translation import gettext as _

from caseload.models import Episode, Patient, Referral
from caseload.reads.waits_wanted import Wanted, wanted_of
from caseload.waits.clocks import Wait
from caseload.waits.terms import End
from caseload.wording import label, say_date
from caseload.wording.record import say_hand
from caseload.wording.waits import SEEN
from caseload.wording.waits_reasons import say_why


class WaitLine(NamedTuple):
    """`days` is how long it was or has been, None where it is still to begin; `over` the days beyond its target."""

    what: str
    of: str
    wait: Wait
    state: str
    days: int | None
    over: int
    why: list[str]

    @property
    def runs(self) -> bool:
        return self.wait.stopped_on is None

    @property
    def is_seen(self) -> bool:
        return self.wait.ended is End.SEEN


def waits_of(
    patient: Patient, referrals: Iterable[Referral], episodes: Iterable[Episode], today: date
) -> list[WaitLine]:
    """All of theirs, those of referrals first; four queries. `referrals` and `episodes` are all of the patient."""
    names = {("referral", row.pk): _("referral of %(day)s") % {"day": say_date(row.received_on)} for row in referrals}
    names |= {("episode", row.pk): say_hand(row) for row in episodes}
    return [_line(each, names.get(_of(each), ""), today) for each in wanted_of([patient.pk])]


def _of(wanted: Wanted) -> tuple[str, int]:
    return ("episode", wanted.episode_id) if wanted.episode_id else ("referral", wanted.referral_id or 0)


def _line(wanted: Wanted, of: str, today: date) -> WaitLine:
    wait = wanted.wait
    until = wait.stopped_on or today
    counts = wait.ended in (End.WAITING, End.SEEN)
    over = (until - wait.due_on).days if counts and wait.due_on else 0
    what = label(wait.clock) if wait.key == wait.clock else _("Wound open again to closed")
    return WaitLine(
        what=what,
        of=of,
        wait=wait,
        state=str(SEEN[wait.clock]) if wait.ended is End.SEEN else label(wait.ended),
        days=(until - wait.started_on).days if until >= wait.started_on else None,
        over=max(over, 0),
        why=[say_why(reason) for reason in wait.reasons],
    )
