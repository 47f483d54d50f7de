"""Whose record somebody may open: the one word for it, asked by pages, lists, search, exports, jobs and acts alike.

Roles add up. An admin books for everybody and a lead answers for everybody, so nothing is kept from them. To somebody
who is a therapist only, these patients are *own*, unless the service is set to `all`:

    theirs         any episode, open or closed, has them as its therapist, or somebody away today whom they cover
    everybody's    no open episode has a therapist who is still here, and none ever had one or something waits: an open
                   episode, or an open referral of which no episode was opened yet
    in the diary   an appointment, whatever became of it, in a session of theirs from seven days ago on
    opened         they gave a reason (`BreakGlass`) that still holds

All other patients are somebody else's. So a patient whose episodes are all closed stays with those who had them.

Asked about a few patients, each condition is an EXISTS that starts from the patient by an index. Of a list of open
episodes, which may be a hundred thousand, what is theirs is looked up as a set that is read once, and everybody's is
only asked about rows that have no therapist who is still here: an EXISTS for each row took PostgreSQL seconds. Of
other lists of thousands (`many_seen_by`), and where such rows are only counted (`open_parts`), it is asked in the ways
that an index answers. All say the same, which `tests/record/test_reach.py` holds them to.
"""

from collections.abc import Callable, Collection, Iterable
from datetime import date, datetime, timedelta
from functools import reduce
from operator import or_
from typing import Any, Final, NamedTuple, Protocol, TypeVar

from django.conf import settings
from django.db.models import Exists, Model, OuterRef, Q, QuerySet, Subquery
from django.db.models.lookups import IsNull
from django.utils import timezone

from caseload.models import Absence, Appointment, BreakGlass, Episode, Patient, Referral, Staff
from caseload.reads.prepared import Prepared
from caseload.timetable.terms import Owner

M = TypeVar("M", bound=Model)
SEEN_BEFORE: Final = timedelta(days=7)
"""So long after an appointment in their session a therapist still has the record open: to write up, to ring back."""


class Reader(Protocol):
    """Who looks, and when. Every `By` of an act or a page is one."""

    @property
    def staff(self) -> Staff | None: ...

    @property
    def at(self) -> datetime: ...


class Limits(NamedTuple):
    """Whose reach, on which day, from which day on their diary counts, and at which instant."""

    staff: int
    today: date
    since: date
    at: datetime

    @classmethod
    def of(cls, staff: Staff, at: datetime) -> "Limits":
        today = timezone.localdate(at)
        return cls(staff.pk, today, today - SEEN_BEFORE, at)


def sees_all(staff: Staff | None) -> bool:
    """Whether nothing is kept from somebody: the planner itself, admins, leads, and everybody where it is so set."""
    if staff is None or settings.PATIENTS_SEEN == "all":
        return True
    return not staff.roles.isdisjoint({Owner.ADMIN, Owner.LEAD})


def reach_of(staff: Staff | None, at: datetime) -> Q | None:
    """Which patients are somebody's own at an instant, to filter Patient by. None: all, nothing is to be added."""
    return _own(staff, at, "pk")


def within(query: QuerySet[M], staff: Staff | None, at: datetime, path: str = "patient") -> QuerySet[M]:
    """Only the rows whose patient, found at `path`, is in reach; rows of no patient are left out, too."""
    own = _own(staff, at, path)
    return query if own is None else query.filter(own)


def seen_by(reader: Reader | None, query: QuerySet[M], path: str = "patient") -> QuerySet[M]:
    """What of a list a reader sees; all of it where nobody reads, but the planner itself."""
    return query if reader is None else within(query, reader.staff, reader.at, path)


def many_seen_by(reader: Reader | None, query: QuerySet[M], path: str = "patient") -> QuerySet[M]:
    """The same of a list that may be thousands, of a hundred thousand open episodes.

    What is theirs is read once, each part by an index of its own. Of the rest one row is looked for: of an EXISTS
    PostgreSQL makes a set of all open episodes.
    """
    limits = limits_of(reader)
    return query if limits is None else many_within(query, limits, path)


def many_within(query: QuerySet[M], limits: Limits, path: str = "patient") -> QuerySet[M]:
    """The same by what limits a reader, for a text that is made once."""
    theirs = [Episode.objects.filter(each) for each in _theirs(limits.staff, limits.today)]
    own = [Q(**{f"{path}__in": rows.order_by().values("patient")}) for rows in (*theirs, *_own_rows(limits)[1:])]
    return query.filter(reduce(or_, own) | _everybodys(OuterRef(path), has_one))


def has_one(rows: QuerySet[Any]) -> Q:
    """What EXISTS says, asked by an index, a row at a time."""
    return ~Q(IsNull(Subquery(rows.order_by().values("pk")[:1]), True))


def open_seen_by(reader: Reader | None, query: QuerySet[M], episode: str = "") -> QuerySet[M]:
    """The same of a list whose every row is of an open episode, found at `episode` (such as `episode__`)."""
    return open_within(limits_of(reader), query, episode)


def open_within(limits: Limits | None, query: QuerySet[M], episode: str = "") -> QuerySet[M]:
    """The same within what limits a reader, so that it can be asked in a text that is made once."""
    if limits is None:
        return query
    patient, therapist = f"{episode}patient", f"{episode}therapist"
    own = [Q(**{f"{patient}__in": rows.order_by().values("patient")}) for rows in _own_rows(limits)]
    gone = Staff.objects.filter(is_active=False).order_by().values("pk")
    alone = Q(**{f"{therapist}__isnull": True}) | Q(**{f"{therapist}__in": gone})
    return query.filter(reduce(or_, own) | alone & ~Exists(_looked_after_now(OuterRef(patient))))


def open_of(
    reader: Reader | None, query: QuerySet[M], episode: str, therapist: int | None, covered: Collection[int] = ()
) -> QuerySet[M]:
    """The same of a list narrowed to a therapist and those whom they cover. One's own needs no further asking."""
    own = reader is not None and reader.staff is not None and reader.staff.pk == therapist
    return query if own and not covered else open_seen_by(reader, query, episode)


def within_limits(query: QuerySet[M], limits: Limits, path: str = "patient") -> QuerySet[M]:
    """The same by what limits a reader, for a text that is made once."""
    return query.filter(_own_within(limits, path))


def few_within(query: QuerySet[Patient], limits: Limits) -> QuerySet[Patient]:
    """Those of some patients who are in reach, each looked at by an index: of an EXISTS PostgreSQL makes sets of
    everybody's rows, however few are asked about."""
    return query.filter(_own_within(limits, "pk", has_one))


def out_of(query: QuerySet[Patient], limits: Limits) -> QuerySet[Patient]:
    """Those of some patients who are somebody else's."""
    return query.exclude(_own_within(limits, "pk"))


def limits_of(reader: Reader | None) -> Limits | None:
    """What limits the reach of a reader, None where nothing does."""
    if reader is None or reader.staff is None or sees_all(reader.staff):
        return None
    return Limits.of(reader.staff, reader.at)


def open_parts(query: QuerySet[M], limits: Limits) -> list[QuerySet[M]]:
    """What is in reach of rows that name the therapist of their open episode, in parts without a row in common.

    What is the reader's is read from an index by therapist; of the others, the few episodes are found first.
    """
    own = query.filter(therapist=limits.staff)
    return [own, query.exclude(therapist=limits.staff).filter(episode__in=_open_of_others(limits))]


def _open_of_others(limits: Limits) -> QuerySet[Episode, Any]:
    """Open episodes in reach that somebody else has, or nobody. Each part by an index of its own."""
    theirs = [Episode.objects.filter(each) for each in _theirs(limits.staff, limits.today)]
    waiting = Episode.objects.open().order_by().exclude(therapist=limits.staff)
    alone = waiting.filter(~Exists(_looked_after_now(OuterRef("patient")))).values("pk")
    first, *more = (
        waiting.filter(patient__in=rows.order_by().values("patient")).values("pk")
        for rows in (*theirs, *_own_rows(limits)[1:])
    )
    gone = Staff.objects.filter(is_active=False).order_by().values("pk")
    return first.union(*more, alone.filter(therapist__isnull=True), alone.filter(therapist__in=gone), all=True)


def unseen_by(reader: Reader | None, patients: Iterable[int]) -> frozenset[int]:
    """Those of these patients, by key, whom a reader does not see named."""
    return frozenset() if reader is None else unreached(reader.staff, patients, reader.at)


def reached(staff: Staff | None, patient_id: int, at: datetime) -> bool:
    """Whether one patient is in reach, in one query or none. Nobody's reach ends at a patient who does not exist."""
    return not unreached(staff, [patient_id], at)


def unreached(staff: Staff | None, patients: Iterable[int], at: datetime) -> frozenset[int]:
    """Those of these patients, by key, who are somebody else's, in one query or none."""
    keys = frozenset(patients)
    if not keys or staff is None or sees_all(staff):
        return frozenset()
    return frozenset(key for (key,) in _STRANGERS([*keys], *Limits.of(staff, at)))


def _strangers(keys: Iterable[int], *limits: Any) -> QuerySet[Patient, Any]:
    return out_of(Patient.objects.filter(pk__in=keys), Limits(*limits)).order_by().values_list("pk")


_STRANGERS: Final = Prepared(_strangers)


def reasons(staff: Staff | None, patients: Collection[int], at: datetime) -> dict[int, str]:
    """The reason that somebody gave for each of these patients and that still holds; nobody who sees all gives one."""
    if not patients or sees_all(staff):
        return {}
    return dict(_REASONS(staff.pk if staff else 0, [*patients], at))


_REASONS: Final = Prepared(
    lambda staff, patients, at: (
        BreakGlass.objects.filter(by=staff, patient__in=patients, until_at__gt=at)
        .order_by("at", "id")
        .values_list("patient_id", "why")
    )
)


def _own(staff: Staff | None, at: datetime, path: str) -> Q | None:
    return None if staff is None or sees_all(staff) else _own_within(Limits.of(staff, at), path)


def _exists(rows: QuerySet[Any]) -> Q:
    return Q(Exists(rows))


def _own_within(limits: Limits, path: str, has: Callable[[QuerySet[Any]], Q] = _exists) -> Q:
    patient = OuterRef(path)
    own = [has(rows.filter(patient=patient)) for rows in _own_rows(limits)]
    return reduce(or_, own) | _everybodys(patient, has)


def _own_rows(limits: Limits) -> list[QuerySet[Any]]:
    """Rows that make their patient somebody's own."""
    held = {"session__therapist": limits.staff, "session__on__gte": limits.since, "on__gte": limits.since}
    return [
        Episode.objects.filter(reduce(or_, _theirs(limits.staff, limits.today))),
        Appointment.objects.filter(**held),
        BreakGlass.objects.filter(by=limits.staff, until_at__gt=limits.at),
    ]


def _theirs(staff: int, today: date) -> list[Q]:
    """Episodes of theirs, of whom they cover, and of whom those cover who are away as well."""
    away = Absence.objects.filter(starts_on__lte=today, ends_on__gte=today).order_by().values("therapist")
    covered = away.filter(cover=staff)
    return [Q(therapist=staff), Q(therapist__in=covered), Q(therapist__in=away.filter(cover__in=covered))]


def _everybodys(patient: OuterRef, has: Callable[[QuerySet[Any]], Q] = _exists) -> Q:
    episodes = Episode.objects.filter(patient=patient)
    waiting = Referral.objects.filter(patient=patient, ended_on__isnull=True, episodes__isnull=True)
    waits = has(episodes.filter(ended_on__isnull=True)) | has(waiting)
    ever = has(episodes.filter(therapist__isnull=False))
    return ~has(_looked_after_now(patient)) & (waits | ~ever)


def _looked_after_now(patient: OuterRef) -> QuerySet[Episode]:
    """Open episodes of a patient whose therapist is still here."""
    return Episode.objects.filter(patient=patient, ended_on__isnull=True, therapist__is_active=True)
