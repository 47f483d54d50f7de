"""The waits of a period as figures, counted from one table, and the waits behind each figure."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from typing import Any, Final, NamedTuple

import numpy as np
from django.conf import settings
from django.db import connection
from django.db.models import Case, DateField, F, Q, QuerySet, Value, When

from caseload.models import Site, Staff
from caseload.reads import waits_behind
from caseload.reads.waits_clocks import DaysTo, of_clock
from caseload.reads.waits_columns import PRIORITIES, SUTURES, Read, read, split, windows
from caseload.waits.audit import figures
from caseload.waits.figures import Figures
from caseload.waits.rows import Chosen, Columns, Days, Period, chosen, months_earlier
from caseload.waits.terms import READ_FROM, Behind, Clock

WEEKS: Final = 26
MONTHS: Final = 12
_NAMES: Final = """WITH RECURSIVE named(surgeon) AS (
    SELECT MIN(surgeon) FROM caseload_wait
    UNION ALL
    SELECT (SELECT MIN(later.surgeon) FROM caseload_wait later WHERE later.surgeon > named.surgeon)
    FROM named WHERE named.surgeon IS NOT NULL
) SELECT surgeon FROM named WHERE surgeon IS NOT NULL"""


class By(StrEnum):
    """What a trend is cut into."""

    WEEK = "week"
    MONTH = "month"


class Dimension(StrEnum):
    """What waits are grouped by; `ENDED` is how a wait ended."""

    SITE = "site"
    THERAPIST = "therapist"
    SURGEON = "surgeon"
    SUTURE = "suture"
    PRIORITY = "priority"
    ENDED = "ended"


class Member(NamedTuple):
    """One group: `value` is the key of a site or therapist (None: of none), a name, or a state word."""

    dimension: Dimension
    value: int | str | None


@dataclass(frozen=True, slots=True)
class Asked:
    """Which waits; empty for all. `by` is what the trend is cut into. `site` and `therapist` are keys of rows."""

    clock: Clock
    period: Period
    site: int | None = None
    therapist: int | None = None
    surgeon: str = ""
    suture: str = ""
    priority: str = ""
    by: By = By.WEEK


def figures_of(asked: Asked, today: date) -> Figures:
    """Everything that is said of these waits; days after today are not counted. A constant number of queries.

    Groups are named by the codes of sites and therapists, by the names of surgeons, and by state words; "" has those
    of whom it is not known.
    """
    period = up_to(asked.period, today)
    stretches = stretches_of(period, asked.by)
    first = min([period.before.first, *(stretch.first for stretch in stretches)])
    found = _waits(asked, period.last)
    all_of = read(found.filter(Q(stop=None) | Q(stop__gte=first) | Q(due__gte=first), began__lte=period.last))
    slipped = READ_FROM.get(asked.clock, asked.clock) is Clock.STITCHES_OUT
    return figures(
        asked.clock,
        period,
        all_of.columns,
        stretches,
        _groups(all_of, period),
        windows(found.filter(waits_behind.of_window(period)), period) if slipped else (),
        shown_from={"site": 1, "surgeon": 1, "therapist": settings.FUNNEL_THERAPIST_FROM},
    )


def behind(asked: Asked, which: Behind, today: date, group: Member | None = None) -> QuerySet[Any]:
    """The waits behind a figure of the period, of all or of one group; the longest first.

    Each has `began`, `came`, `stop`, `how` and `due` as its clock has them, and `days`: how long it had lasted at the
    end of the period, or when it stopped.
    """
    period = up_to(asked.period, today)
    until = Case(When(stop__lte=period.last, then="stop"), default=Value(period.last, DateField()))
    found = (
        _waits(asked, period.last).filter(waits_behind.behind(which, period)).annotate(days=DaysTo(until, F("began")))
    )
    if group:
        field = "how" if group.dimension is Dimension.ENDED else group.dimension.value
        found = found.filter(**{field: group.value})
    return found.order_by("-days", "id")


def up_to(period: Period, today: date) -> Period:
    """Without the days that are to come."""
    return Period(period.first, min(period.last, today))


def stretches_of(period: Period, by: By) -> tuple[Period, ...]:
    """26 weeks from Monday to Sunday, or 12 calendar months, up to the period's last day; only whole ones, since fewer
    are seen in a part of a week and a chart would take that for a change."""
    return tuple(_months(period.last) if by is By.MONTH else _weeks(period.last))


def _weeks(last: date) -> Iterator[Period]:
    sunday = last - timedelta(days=last.isoweekday() % 7)
    for back in range(WEEKS - 1, -1, -1):
        ends = sunday - timedelta(weeks=back)
        yield Period(ends - timedelta(days=6), ends)


def _months(last: date) -> Iterator[Period]:
    ends_before = (last + timedelta(days=1)).replace(day=1)
    for back in range(MONTHS, 0, -1):
        yield Period(months_earlier(ends_before, back), months_earlier(ends_before, back - 1) - timedelta(days=1))


def _waits(asked: Asked, last: date) -> QuerySet[Any]:
    wanted = {"site": asked.site, "therapist": asked.therapist}
    words = {"surgeon": asked.surgeon, "suture": asked.suture, "priority": asked.priority}
    kept = {name: value for name, value in {**wanted, **words}.items() if value not in (None, "")}
    return of_clock(asked.clock, last).filter(**kept)


def _groups(all_of: Read, period: Period) -> Mapping[str, Mapping[str, Columns]]:
    """Those who waited in the period or fell due in it, by dimension and key."""
    there = _of_period(all_of.columns, period)
    waits = chosen(all_of.columns, there)
    sites = dict(Site.objects.order_by().values_list("id", "code"))
    therapists = dict(Staff.objects.order_by().values_list("id", "code"))
    keys: dict[Dimension, tuple[Days, Mapping[int, str]]] = {
        Dimension.SITE: (all_of.site, sites),
        Dimension.THERAPIST: (all_of.therapist, therapists),
        Dimension.SURGEON: (all_of.surgeon, dict(enumerate(all_of.surgeons))),
        Dimension.SUTURE: (all_of.suture, dict(enumerate(SUTURES))),
        Dimension.PRIORITY: (all_of.priority, dict(enumerate(PRIORITIES))),
    }
    return {
        dimension.value: {names.get(key, ""): those for key, those in split(waits, of[there])}
        for dimension, (of, names) in keys.items()
    }


def _of_period(of: Columns, period: Period) -> Chosen:
    first, last = period.first.toordinal(), period.last.toordinal()
    overlaps = (of.came <= last) & (of.stopped >= np.maximum(of.came, first))
    found: Chosen = overlaps | (of.due >= first) & (of.due <= last)
    return found


def surgeons() -> list[str]:
    """The names that waits stand under, by the alphabet; "" is not among them. Each is one step through their index."""
    with connection.cursor() as cursor:
        cursor.execute(_NAMES)
        return sorted((name for (name,) in cursor.fetchall() if name), key=str.casefold)
