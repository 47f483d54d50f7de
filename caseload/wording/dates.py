"""Dates and counts in words."""

from datetime import date
from functools import lru_cache

from django.utils import dateformat
from django.utils.translation import get_language, ngettext
from django.utils.translation import gettext as _


def say_date(day: date) -> str:
    """A day as staff read it: Wed 1 Apr 2026."""
    return _said(day, get_language())


def say_numbered(day: date, since: date | None) -> str:
    """With its number since the surgery, where that is known: Thu 2 Apr 2026 (day 13)."""
    if since is None:
        return say_date(day)
    return _("%(date)s (day\N{NO-BREAK SPACE}%(number)d)") % {"date": say_date(day), "number": (day - since).days}


def say_days(count: int) -> str:
    """A number of days: 1 day, 14 days."""
    return ngettext("%(count)d day", "%(count)d days", count) % {"count": count}


@lru_cache(maxsize=4096)
def _said(day: date, language: str | None) -> str:
    return dateformat.format(day, "D j M Y")
