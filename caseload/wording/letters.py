"""Days, places and persons as letters and e-mails about appointments say them; the sentences are in templates."""

from collections.abc import Iterable, Sequence
from datetime import date
from typing import Final

from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy
from django.utils.translation import ngettext

from caseload.booking.slots import clock
from caseload.models import Appointment
from caseload.parsing import Scheme
from caseload.timetable.terms import FollowUpKind, Outcome, Way
from caseload.wording.labels import label
from caseload.wording.patient import VISIT_FOR, join, say_day, say_weekday

SUBJECT: Final = lazy("About your appointment")
TO_REFERRER: Final = lazy("About a patient of yours")


def say_at(on: date, minute: int | None) -> str:
    """`Wednesday 3 April 2026 at 09:20`."""
    if minute is None:
        return say_weekday(on)
    return _("%(day)s at %(time)s") % {"day": say_weekday(on), "time": clock(minute)}


def say_times(times: Sequence[tuple[date, int | None]]) -> str:
    """Times one after the other: “Wednesday 3 April 2026 at 09:20 or on Thursday 4 April 2026 at 10:00”."""
    first, *rest = [say_at(*time) for time in times] or [""]
    for other in rest:
        first = _("%(one)s or on %(other)s") % {"one": first, "other": other}
    return first


def say_where(way: str, site: str) -> str:
    if way == Way.TELEPHONE:
        return _("We will ring you then. You do not need to come.")
    if way == Way.VIDEO:
        return _("It is by video. You do not need to come.")
    return _("Please come to %(site)s.") % {"site": site}


def say_addressee(name: str, child: bool) -> str:
    return _("To the parent or guardian of %(name)s") % {"name": name} if child else name


def say_dear(name: str, child: bool) -> str:
    return say_addressee(name, child) if child else _("Dear %(name)s") % {"name": name}


def say_who(name: str, born_on: date | None, numbers: Iterable[tuple[str, str]]) -> str:
    """“Rosa Marsh, born on 2 January 1960, NHS number 999 000 0018”."""
    born = _("born on %(date)s") % {"date": say_day(born_on)} if born_on else ""
    named = (f"{label(Scheme(scheme))} {value}" for scheme, value in numbers)
    return ", ".join(filter(None, (name, born, *named)))


def say_operation(hand: str, on: date | None) -> str:
    """“Operation: right ring finger, Friday 20 March 2026.”"""
    said = {"hand": hand, "date": say_weekday(on) if on else _("the day is not known")}
    return _("Operation: %(hand)s, %(date)s.") % said


def say_missed(visit: Appointment) -> str:
    """“Wednesday 1 April 2026 at 10:20: stitches out. Did not attend.”"""
    what = join(_(VISIT_FOR[FollowUpKind(row.follow_up.kind)]) for row in visit.serving)  # type: ignore[attr-defined]
    said = {"when": say_at(visit.on, visit.start_minute), "what": what, "how": capfirst(label(Outcome(visit.outcome)))}
    return _("%(when)s: %(what)s. %(how)s.") % said


def say_stitches_left(on: date, left: int) -> str:
    said = {"date": say_weekday(on), "count": left}
    return ngettext(
        "On %(date)s %(count)d stitch was still in.", "On %(date)s %(count)d stitches were still in.", left
    ) % said  # fmt: skip


def say_stitches_in(put_in: int | None) -> str:
    said = _("The stitches are not recorded as fully out.")
    if not put_in:
        return said
    counted = ngettext("%(count)d stitch was put in.", "%(count)d stitches were put in.", put_in) % {"count": put_in}
    return f"{said} {counted}"


def say_red_flag(on: date) -> str:
    return _("A warning sign of %(date)s is not recorded as dealt with.") % {"date": say_weekday(on)}
