"""Who stands behind a figure, as conditions on the waits of `waits_clocks.of_clock`; `waits.audit` counts the same."""

from typing import Final

from django.db.models import F, Q

from caseload.waits.rows import Period
from caseload.waits.terms import Behind, End

_SEEN: Final = Q(how=End.SEEN)
_OTHERWISE: Final = ~Q(how__in=(End.SEEN, End.WAITING))


def behind(which: Behind, period: Period) -> Q:
    conditions = _of_waits(period) | _of_due(period) | _of_windows(period)
    return conditions[which]


def of_window(period: Period) -> Q:
    """Stitches whose target day fell in the period."""
    return Q(earliest_on__isnull=False, due_on__isnull=False, target_on__range=period)


def _of_waits(period: Period) -> dict[Behind, Q]:
    """Who waited with us on a day of the period, and how that stood at its end."""
    first, last = period
    ever = Q(stop=None) | Q(stop__gte=F("came")) & Q(stop__gte=first)
    there = Q(came__lte=last) & ever
    seen = there & _SEEN & Q(stop__lte=last)
    return {
        Behind.ALL: there,
        Behind.AT_START: there & Q(came__lt=first),
        Behind.BEGAN: there & Q(came__gte=first),
        Behind.WAITING: there & (Q(stop=None) | Q(stop__gt=last)),
        Behind.SEEN: seen,
        Behind.SEEN_WITHIN: seen & Q(stop__lte=F("due")),
        Behind.SEEN_LATE: seen & (Q(due=None) | Q(stop__gt=F("due"))),
        Behind.ENDED: there & _OTHERWISE & Q(stop__lte=last),
    }


def _of_due(period: Period) -> dict[Behind, Q]:
    """Whose target day fell in the period: not those who had ended otherwise before it, nor came to us after it."""
    ours = Q(due__gte=F("came")) & (Q(stop=None) | Q(stop__gte=F("came")))
    due = Q(due__range=period) & ours & (~_OTHERWISE | Q(stop__gte=F("due")))
    in_time = _SEEN & Q(stop__lte=F("due"))
    return {
        Behind.DUE: due,
        Behind.WITHIN: due & in_time,
        Behind.NOT_WITHIN: due & (~_SEEN | Q(stop__gt=F("due"))),
    }


def _of_windows(period: Period) -> dict[Behind, Q]:
    """Stitches against their window, as it stood at the end of the period."""
    last, window = period.last, of_window(period)
    still = window & (Q(stopped_on=None) | Q(stopped_on__gt=last))
    early, not_early = Q(stopped_on__lt=F("earliest_on")), Q(stopped_on__gte=F("earliest_on"))
    out = window & Q(ended=End.SEEN, stopped_on__lte=last)
    return {
        Behind.EARLY: out & early,
        Behind.INSIDE: out & not_early & Q(stopped_on__lte=F("due_on")),
        Behind.LATE: out & not_early & Q(stopped_on__gt=F("due_on")),
        Behind.OVERDUE: still & Q(due_on__lt=last),
        Behind.AHEAD: still & Q(due_on__gte=last),
        Behind.ENDED_OTHERWISE: window & Q(stopped_on__lte=last) & ~Q(ended__in=(End.SEEN, End.WAITING)),
    }
