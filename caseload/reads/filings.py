"""Months of waits: which were filed and which are to be, what is known of one now, and what moved since the filing."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta
from typing import Final, NamedTuple

from django.db.models import Min, Q, Value
from django.db.models.functions import Coalesce

from caseload.models import Episode, Filing, Finding, Patient, Referral, RuleSet, TrailEntry, Wait
from caseload.reads.names import names
from caseload.reads.waits import Asked, behind, figures_of
from caseload.reads.waits_wanted import targets
from caseload.waits.filed import Counted, Filed, bears_on, read_waits, waits_of
from caseload.waits.restated import Moved, Restated, moves, restated
from caseload.waits.rows import Period, months_earlier
from caseload.waits.terms import Behind, Clock

AT_ONCE: Final = 2000
COLUMNS: Final = tuple("at" if name == "site" else name for name in Counted._fields)


class Month(NamedTuple):
    """A month on the list: `filing` once it is filed, `moved` how many of its waits were entered or changed since.

    `over`: it may be filed, if there are `waits`.
    """

    month: Period
    over: bool
    waits: bool
    filing: Filing | None
    moved: int


def month_of(day: date) -> Period:
    """The calendar month of a day."""
    first = day.replace(day=1)
    return Period(first, months_earlier(first, -1) - timedelta(days=1))


def years(today: date) -> list[int]:
    """The years that have waits or filed months, the latest first; this one is always among them."""
    first_wait = Wait.objects.aggregate(first=Min("started_on"))["first"]
    first_filed = Filing.objects.aggregate(first=Min("month"))["first"]
    first = min(day for day in (first_wait, first_filed, today) if day)
    return list(range(today.year, first.year - 1, -1))


def months(year: int, today: date) -> list[Month]:
    """The months of a year that have begun, the latest first."""
    last = min(date(year, 12, 31), today)
    begun = [month_of(date(year, number, 1)) for number in range(last.month, 0, -1)]
    filed = {row.month: row for row in Filing.objects.filter(month__year=year).select_related("filed_by")}
    rows = waits_between(Period(date(year, 1, 1), last))
    return [_month(month, filed.get(month.first), rows, today) for month in begun]


def _month(month: Period, filing: Filing | None, rows: list[Counted], today: date) -> Month:
    if filing is None:
        return Month(month, month.last < today, any(bears_on(row, month) for row in rows), None, 0)
    moved = moves(read_waits(filing.body["waits"]), waits_of(rows, month))
    return Month(month, True, True, filing, len(moved))


def waits_between(days: Period) -> list[Counted]:
    """All waits as they are now that may bear on a month of these days; by clock, and by the day they began on."""
    ended = (Q(**{f"{day}__gte": days.first}) for day in ("stopped_on", "due_on", "target_on"))
    there = Q(stopped_on__isnull=True)
    for each in ended:
        there |= each
    of = Coalesce("episode__code", "referral__code")
    found = Wait.objects.filter(there, started_on__lte=days.last).annotate(of=of, at=Coalesce("site__code", Value("")))
    rows = found.order_by("clock", "started_on", "of", "key").values_list(*COLUMNS)
    return [Counted(Clock(row[0]), *row[1:]) for row in rows.iterator(AT_ONCE)]


def known(month: Period) -> Filed:
    """Everything that is filed of a month, as it is known now. What happened after its last day is not counted."""
    waits = waits_of(waits_between(month), month)
    everybody = names()
    return Filed(
        month=month,
        rules=_rules({wait.of for wait in waits}),
        targets=targets(),
        figures={clock: figures_of(Asked(clock, month), month.last) for clock in Clock},
        waits=waits,
        names={each.code: each.name for each in (*everybody.sites, *everybody.therapists)},
    )


def _rules(codes: set[str]) -> tuple[str, ...]:
    """Name and version of the rules that these episodes follow."""
    used = Episode.objects.filter(code__in=codes).order_by().values("rules").distinct()
    return tuple(str(row) for row in RuleSet.objects.filter(pk__in=used))


def restatement(filing: Filing) -> Restated:
    """The month as it was filed beside what is known of it now."""
    filed = Filed.from_json(filing.body)
    return restated(filed, known(filed.month))


class Mover(NamedTuple):
    """A wait that moved, whose it is, and the entry of the trail that tells of it, where one does."""

    moved: Moved
    patient: Patient | None
    entry: TrailEntry | None


def movers(moved: Sequence[Moved], since: datetime) -> list[Mover]:
    """Whose waits moved, and what was recorded of it after `since`; in five queries."""
    owners = _owners({each.wait.of for each in moved})
    entries = _entries_by_patient({owner.patient_id for owner in owners.values()}, since)
    found = []
    for each in moved:
        owner = owners.get(each.wait.of)
        if owner is None:
            found.append(Mover(each, None, None))
        else:
            found.append(Mover(each, owner.patient, _telling(each, owner, entries[owner.patient_id])))
    return found


def _owners(codes: set[str]) -> dict[str, Episode | Referral]:
    """The episodes and referrals with these codes, and their patients."""
    models: tuple[type[Episode | Referral], ...] = (Episode, Referral)
    return {row.code: row for model in models for row in model.objects.filter(code__in=codes).select_related("patient")}


def _entries_by_patient(patients: set[int], since: datetime) -> dict[int, list[tuple[TrailEntry, str]]]:
    """What was recorded of them since, the latest first, each with the text in which its days stand."""
    rows = list(TrailEntry.objects.filter(patient__in=patients, at__gt=since).select_related("by"))
    found_on = dict(
        Finding.objects.filter(pk__in=[row.subject_id for row in rows if row.subject == "finding"])
        .order_by().values_list("pk", "on")
    )  # fmt: skip
    by_patient: dict[int, list[tuple[TrailEntry, str]]] = defaultdict(list)
    for row in rows:
        on = found_on.get(row.subject_id or 0, "") if row.subject == "finding" else ""
        by_patient[row.patient_id or 0].append((row, f"{row.changed} {on}"))
    return by_patient


def _telling(moved: Moved, owner: Episode | Referral, entries: Iterable[tuple[TrailEntry, str]]) -> TrailEntry | None:
    """The latest entry that names a day on which the wait differs; of a new wait, what brought that which it is of."""
    days = {day.isoformat() for day in moved.days}
    for entry, said in entries:
        is_owner = (entry.subject, entry.subject_id) == (owner._meta.model_name, owner.pk)
        if any(day in said for day in days) or moved.was is None and is_owner:
            return entry
    return None


def rules_behind(asked: Sequence[Asked], today: date) -> tuple[str, ...]:
    """Name and version of the rules that the episodes of these waits follow; none of a referral follows any."""
    used: set[int] = set()
    for each in asked:
        found = behind(each, Behind.ALL, today).order_by()
        used |= set(found.filter(episode__isnull=False).values_list("episode__rules", flat=True).distinct())
    return tuple(str(row) for row in RuleSet.objects.filter(pk__in=used))
