"""What is on record of the people who may be meant by a list, loaded for all its rows at once.

The number of queries grows with the rows by chunks of 500, and not with what is on record.
"""

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from typing import Any, NamedTuple, TypeVar

from django.db.models import F
from django.db.models.functions import Coalesce

from caseload.exchange.likeness import PersonKey, person_key
from caseload.models import Episode, IntakeRow, Patient, Referral, Site
from caseload.models import Identifier as Number
from caseload.parsing import Identifier, Scheme, search_key
from caseload.reads.matching.entry import Entry, entry_from_json, identity

CHUNK = 500
T = TypeVar("T", bound=Hashable)


class Known(NamedTuple):
    patient: Patient
    key: PersonKey
    numbers: Mapping[str, str]


class Earlier(NamedTuple):
    """A row of an earlier list that was taken; `entry` is None once its cells are forgotten.

    `same_file`: it stood in the very file that is being read.
    """

    number: int
    identity: str
    entry: Entry | None
    episodes: Mapping[str, str]
    same_file: bool

    def is_of(self, entry: Entry) -> bool:
        return self.same_file and self.number == entry.number


@dataclass
class OnRecord:
    """`site` is for rows that name none, `digest` names the file. Lists of earlier rows begin with the latest."""

    sites: Mapping[str, Site]
    site: Site | None = None
    digest: str = ""
    known: dict[int, Known] = field(default_factory=dict)
    by_number: dict[tuple[str, str], int] = field(default_factory=dict)
    by_name: dict[tuple[str, str], list[int]] = field(default_factory=lambda: defaultdict(list))
    by_birth: dict[tuple[date | None, str], list[int]] = field(default_factory=lambda: defaultdict(list))
    by_identity: dict[str, list[int]] = field(default_factory=lambda: defaultdict(list))
    episodes: dict[int, list[Episode]] = field(default_factory=lambda: defaultdict(list))
    referrals: dict[int, list[Referral]] = field(default_factory=lambda: defaultdict(list))
    earlier: dict[int, list[Earlier]] = field(default_factory=lambda: defaultdict(list))

    def candidates(self, key: PersonKey) -> list[Known]:
        """Everybody who shares a number, the whole name, or the birth date and one name: nobody else can be alike."""
        ids = [self.by_number[number] for number in sorted(key.numbers) if number in self.by_number]
        ids += self.by_name.get(key.name, ())
        for name in key.name if key.born_on else ():
            ids += self.by_birth.get((key.born_on, name), ())
        return [self.known[pk] for pk in dict.fromkeys(ids)]

    def site_named(self, name: str) -> Site | None:
        return self.sites.get(search_key(name)) if name else None


def on_record(entries: Sequence[Entry], *, site: Site | None, digest: str) -> OnRecord:
    """Everything that `entries` are held against."""
    record = OnRecord({search_key(row.name): row for row in Site.objects.select_related("region")}, site, digest)
    if site is None and len(record.sites) == 1:
        record.site = next(iter(record.sites.values()))
    ids = {*_by_identity(record, entries), *_by_number(entries), *_by_name(entries), *_by_birth(entries)}
    for chunk in _chunks(ids):
        _load(record, chunk)
    return record


def _by_identity(record: OnRecord, entries: Iterable[Entry]) -> Iterator[int]:
    rows = IntakeRow.objects.filter(taken_at__isnull=False)
    for chunk in _chunks(identity(entry.key) for entry in entries):
        of = rows.filter(identity__in=chunk).values_list("identity", Coalesce("patient__merged_into", "patient"))
        for one, patient in of.distinct():
            record.by_identity[one].append(patient)
            yield patient


def _by_number(entries: Iterable[Entry]) -> Iterator[int]:
    asked: dict[str, set[str]] = defaultdict(set)
    for entry in entries:
        for scheme, value in entry.key.numbers:
            asked[scheme].add(value)
    for scheme, values in asked.items():
        for chunk in _chunks(values):
            rows = Number.objects.order_by().filter(scheme=scheme, value__in=chunk)
            yield from rows.values_list(Coalesce("patient__merged_into", "patient"), flat=True)


def _by_name(entries: Iterable[Entry]) -> Iterator[int]:
    rows = Patient.objects.order_by().filter(merged_into__isnull=True)
    for chunk in _chunks(" ".join(filter(None, reversed(entry.key.name))) for entry in entries):
        yield from rows.filter(search_key__in=chunk).values_list("pk", flat=True)


def _by_birth(entries: Iterable[Entry]) -> Iterator[int]:
    wanted = {(entry.key.born_on, name) for entry in entries if entry.key.born_on for name in entry.key.name}
    rows = Patient.objects.order_by().filter(merged_into__isnull=True)
    even = cache(search_key)
    for chunk in _chunks(born_on for born_on, _ in wanted):
        for pk, born_on, given, family in rows.filter(born_on__in=chunk).values_list(
            "pk", "born_on", "given", "family"
        ):
            if (born_on, even(given)) in wanted or (born_on, even(family)) in wanted:
                yield pk


def last_said(entry: Entry, rows: Sequence[Earlier]) -> Earlier | None:
    """What a list said last; a row of the same file again says nothing new, whatever came between."""
    return next((row for row in rows if row.is_of(entry)), rows[0] if rows else None)


def _chunks(values: Iterable[T]) -> Iterator[list[T]]:
    distinct = list(dict.fromkeys(values))
    return (distinct[start : start + CHUNK] for start in range(0, len(distinct), CHUNK))


def _load(record: OnRecord, ids: list[int]) -> None:
    numbers: dict[int, list[Identifier]] = defaultdict(list)
    for row in Number.objects.filter(patient__in=ids):
        numbers[row.patient_id].append(Identifier(Scheme(row.scheme), row.value, row.as_typed))
    for patient in Patient.objects.filter(pk__in=ids).order_by("pk"):
        _know(record, patient, numbers[patient.pk])
    _group(record.episodes, Episode.objects.filter(patient__in=ids).select_related("referral", "site").order_by("pk"))
    _group(record.referrals, Referral.objects.filter(patient__in=ids, ended_on__isnull=True))
    taken = IntakeRow.objects.filter(patient__in=ids, taken_at__isnull=False).annotate(digest=F("batch__digest"))
    _group(record.earlier, taken.order_by("-taken_at", "-id"), lambda row: _earlier(row, row.digest == record.digest))


def _know(record: OnRecord, patient: Patient, numbers: list[Identifier]) -> None:
    key = person_key(patient.given, patient.family, patient.born_on, numbers)
    record.known[patient.pk] = Known(patient, key, {number.scheme: number.value for number in numbers})
    record.by_number |= dict.fromkeys(key.numbers, patient.pk)
    record.by_name[key.name].append(patient.pk)
    for name in set(key.name):
        record.by_birth[key.born_on, name].append(patient.pk)


def _group(groups: dict[int, list[Any]], rows: Iterable[Any], make: Callable[[Any], Any] = lambda row: row) -> None:
    for row in rows:
        groups[row.patient_id].append(make(row))


def _earlier(row: IntakeRow, same_file: bool) -> Earlier:
    entry = entry_from_json(row.number, row.entry, [], {}) if row.entry else None
    return Earlier(row.number, row.identity, entry, row.episodes, same_file)
