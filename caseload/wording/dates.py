"""Dates and counts in words."""

from datetime import date, datetime
from functools import lru_cache

from django.utils import dateformat, timezone
from django.utils.translation import get_language, ngettext
from django.utils.translation import gettext as _

from caseload.waits.rows import Period


def say_date(day: date) -> str:
    """A day as staff read it: Wed 1 Apr 2026."""
    return _said(day, get_language())


def say_instant(at: datetime) -> str:
    """`Wed 1 Apr 2026, 09:20`, in the time of the clinic."""
    local = timezone.localtime(at)
    return f"{say_date(local.date())}, {local:%H:%M}"


def say_numbered(day: date, since: date | None) -> str:
    """With its number since the surgery, where that is known: Thu 2 Apr 2026 (day 13)."""
    if since is None:
        return say_date(day)
    return _("%(date)s (day\N{NO-BREAK SPACE}%(number)d)") % {"date": say_date(day), "number": (day - since).days}


def say_month(day: date) -> str:
    """The month of a day: October 2026."""
    return dateformat.format(day, "F Y")


def say_period(period: Period) -> str:
    """October 2026; August to October 2026; Thu 1 Oct 2026 to Wed 14 Oct 2026."""
    first, last = period
    if not period.whole_months:
        return say_date(first) if first == last else _("%(first)s to %(last)s") % _ends(say_date(first), say_date(last))
    if period.whole_months == 1:
        return say_month(first)
    begins = dateformat.format(first, "F") if first.year == last.year else say_month(first)
    return _("%(first)s to %(last)s") % _ends(begins, say_month(last))


def _ends(first: str, last: str) -> dict[str, str]:
    return {"first": first, "last": last}


def say_days(count: int) -> str:
    """A number of days: 1 day, 14 days."""
    return ngettext("%(count)d day", "%(count)d days", count) % {"count": count}


@lru_cache(maxsize=4096)
def _said(day: date, language: str | None) -> str:
    return dateformat.format(day, "D j M Y")
