"""Whose turn it is: each open episode's one headline, with counts that add up to the open episodes."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, NamedTuple

from django.db.models import Count, Q, QuerySet

from caseload.models import Standing
from caseload.reads.away import Absent
from caseload.reads.caseload import in_order
from caseload.reads.lines import Line, Stored, Subject, lines_of
from caseload.reads.prepared import Prepared
from caseload.reads.reach import Limits, Reader, limits_of, open_of, open_parts
from caseload.timetable.evidence import Evidence
from caseload.timetable.terms import FollowUpKind, Headline, Lock, Owner, Suture
from caseload.wording.advice import Matter
from caseload.wording.speech import speech

BATCH = 500
ORDER = ("rank", "due_on", "id")
NOBODY_AWAY = Absent()


@dataclass(frozen=True, slots=True)
class Asked:
    """Which of those that need somebody are asked for; empty for all. With the therapist also those whom they cover."""

    headline: str = ""
    owner: str = ""
    site: int | None = None
    therapist: int | None = None
    covered: frozenset[int] = frozenset()
    unassigned: bool = False

    def holds(self, group: "Group") -> bool:
        return (
            bool(group.headline)
            and self.headline in ("", group.headline)
            and self.owner in ("", group.owner)
            and self.site in (None, group.site_id)
            and (self.therapist in (None, group.therapist_id) or group.therapist_id in self.covered)
            and not (self.unassigned and group.therapist_id)
        )


class Group(NamedTuple):
    """So many open episodes have this headline (empty: in hand), owner, site and therapist."""

    headline: str
    owner: str
    site_id: int
    therapist_id: int | None
    episodes: int


class Share(NamedTuple):
    """Of the open episodes of an owner, site or therapist: those that need somebody, and those in hand."""

    needing: int
    in_hand: int

    @property
    def open(self) -> int:
        return self.needing + self.in_hand


@dataclass(frozen=True, slots=True)
class Counts:
    """All open episodes of a day, in groups that leave none out and count none twice."""

    groups: tuple[Group, ...]

    @property
    def open(self) -> int:
        return sum(group.episodes for group in self.groups)

    @property
    def in_hand(self) -> int:
        return sum(group.episodes for group in self.groups if not group.headline)

    @property
    def needing(self) -> int:
        return self.open - self.in_hand

    def of(self, asked: Asked) -> int:
        return sum(group.episodes for group in self.groups if asked.holds(group))

    def by(self, field: str) -> Counter[object]:
        """Episodes that need somebody, by headline or by owner."""
        found: Counter[object] = Counter()
        for group in self.groups:
            if group.headline:
                found[getattr(group, field)] += group.episodes
        return found

    def shares(self, field: str) -> dict[object, Share]:
        """Every open episode, by site or by therapist."""
        found: dict[object, Share] = {}
        for group in self.groups:
            needing, in_hand = found.get(getattr(group, field), Share(0, 0))
            more = (group.episodes, 0) if group.headline else (0, group.episodes)
            found[getattr(group, field)] = Share(needing + more[0], in_hand + more[1])
        return found


def counts(today: date, absent: Absent = NOBODY_AWAY, reader: Reader | None = None) -> Counts:
    """Everything that is counted, in one query. What passes to the lead today is counted as the lead's."""
    limits = limits_of(reader)
    groups = (Group(*row) for row in (_SEEN(today, *limits) if limits else _ALL(today)))
    return Counts(tuple(group._replace(owner=absent.owner(group.owner, group.therapist_id)) for group in groups))


def _grouped(rows: QuerySet[Standing]) -> QuerySet[Standing, Any]:
    fields = ("headline", "owner", "site_id", "therapist_id")
    return rows.order_by().values_list(*fields).annotate(episodes=Count("*"))


def _all(today: date) -> QuerySet[Standing, Any]:
    return _grouped(Standing.objects.on(today))


def _seen(today: date, *limits: Any) -> QuerySet[Standing, Any]:
    first, *more = map(_grouped, open_parts(Standing.objects.on(today), Limits(*limits)))
    return first.union(*more, all=True)


_ALL, _SEEN = Prepared(_all), Prepared(_seen)


class Row(NamedTuple):
    """An episode that needs somebody; `others` are the headlines that apply beside the first."""

    headline: str
    owner: str
    due_on: date | None
    follow_up_key: str
    others: list[str]
    site_id: int
    therapist_id: int | None
    id: int
    code: str
    side: str
    digit: str
    suture: str
    stitches_in: int | None
    surgery_on: date | None
    family: str
    given: str
    born_on: date | None
    phone: str
    line: Line | None = None
    follow_up: Stored | None = None
    evidence: Evidence | None = None

    def matter(self, today: date) -> Matter:
        """What the headline is about, for `wording.advice`."""
        window, headline = self.follow_up, Headline(self.headline)
        return Matter(
            headline=headline,
            today=today,
            due_on=self.due_on,
            surgery_on=self.surgery_on,
            kind=FollowUpKind(window.kind) if window else None,
            earliest_on=window.earliest_on if window else None,
            latest_on=window.latest_on if window else None,
            proposed_on=window.proposed_on if window else None,
            booked_on=window.booked_on if window else None,
            missing=self._missing() if headline is Headline.MISSING_FACT else (),
            unsettled=self._unsettled() if headline is Headline.SAFETY_ALERT else (),
        )

    def _missing(self) -> tuple[str, ...]:
        known = {
            "the surgery date": self.surgery_on,
            "the hand": self.side,
            "the finger": self.digit,
            "the kind of stitches": self.suture != Suture.UNKNOWN,
        }
        return tuple(fact for fact, value in known.items() if not value)

    def _unsettled(self) -> tuple[str, ...]:
        proven = self.evidence
        if proven is None:
            return ()
        locks = [Lock.STITCHES_OUT] if proven.to_remove and proven.removal is None else []
        locks += [Lock.WOUND_CLOSED] if proven.closed is None else []
        say = speech()
        return tuple(say.label(lock) for lock in locks)


_STORED = (
    "headline", "owner", "due_on", "follow_up_key", "others", "site_id", "therapist_id", "episode_id",
    "episode__code", "episode__side", "episode__digit", "episode__suture", "episode__stitches_in",
    "episode__surgery_on", "episode__patient__family", "episode__patient__given", "episode__patient__born_on",
    "episode__patient__phone",
)  # fmt: skip


def standings(
    asked: Asked, today: date, absent: Absent = NOBODY_AWAY, reader: Reader | None = None
) -> QuerySet[Standing]:
    """Those that need somebody. By rank, because the index of the list's order begins with it."""
    found: QuerySet[Standing] = Standing.objects.on(today).filter(rank__lt=len(Headline))
    found = open_of(reader, found, "episode__", asked.therapist, asked.covered)
    if asked.headline:
        found = found.filter(headline=asked.headline)
    if asked.owner:
        found = _owned(found, asked.owner, absent.to_lead)
    if asked.site is not None:
        found = found.filter(site=asked.site)
    if asked.therapist is not None:
        found = found.filter(therapist__in={asked.therapist, *asked.covered})
    return found.filter(therapist__isnull=True) if asked.unassigned else found


def _owned(found: QuerySet[Standing], owner: str, to_lead: frozenset[int]) -> QuerySet[Standing]:
    if not to_lead or owner not in (Owner.LEAD, Owner.THERAPIST):
        return found.filter(owner=owner)
    if owner == Owner.THERAPIST:
        return found.filter(owner=owner).exclude(therapist__in=to_lead)
    return found.filter(Q(owner=owner) | Q(owner=Owner.THERAPIST, therapist__in=to_lead))


def rows(
    found: QuerySet[Standing],
    order: Sequence[str],
    start: int,
    stop: int,
    today: date,
    absent: Absent = NOBODY_AWAY,
) -> list[Row]:
    """The rows from `start` up to `stop` in this order, with day lines and what they are about, in three queries."""
    if start >= stop:
        return []
    ordering = in_order(order, ORDER)
    wanted = found.order_by(*ordering).values("pk")[start:stop]
    stored = [Row(*row) for row in Standing.objects.filter(pk__in=wanted).order_by(*ordering).values_list(*_STORED)]
    drawn = lines_of([Subject(row.id, row.surgery_on, row.suture, row.stitches_in) for row in stored], today)
    return [
        row._replace(
            owner=absent.owner(row.owner, row.therapist_id),
            line=drawn.lines.get(row.id),
            follow_up=next((each for each in drawn.follow_ups[row.id] if each.key == row.follow_up_key), None),
            evidence=drawn.evidence[row.id],
        )
        for row in stored
    ]


def all_rows(
    found: QuerySet[Standing], order: Sequence[str], today: date, absent: Absent = NOBODY_AWAY
) -> Iterator[Row]:
    """Every row in this order, read in batches; none comes twice, whatever moves meanwhile."""
    keys = list(found.order_by(*in_order(order, ORDER)).values_list("pk", flat=True))
    for start in range(0, len(keys), BATCH):
        yield from rows(found.filter(pk__in=keys[start : start + BATCH]), order, 0, BATCH, today, absent)
