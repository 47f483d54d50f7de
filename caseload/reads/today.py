"""A therapist's day: the sessions with whom they see, then what is proposed and not booked, what still needs an
outcome, what is late, and what is ahead. With what is theirs stands what they cover for a colleague who is away.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta
from enum import IntEnum
from typing import Any, Final, NamedTuple

from django.db.models import FilteredRelation, Q, QuerySet

from caseload.booking.slots import DAY
from caseload.models import Episode, FollowUp, Staff, State
from caseload.reads.away import Absent
from caseload.reads.lines import Drawn, Line, Stored, Subject, lines_from
from caseload.reads.locks import NOBODY, Hands, Person, locks_of_hands
from caseload.reads.prepared import Prepared
from caseload.reads.reach import Reader, limits_of, unseen_by
from caseload.reads.sittings import Sitting, Visit, sittings_of, visit_fields
from caseload.timetable.activities import Locks
from caseload.timetable.terms import Status

AHEAD_DAYS = 7
MOST = 150
"""So many due follow-ups of one therapist are looked at, the first to end first; the overdue list has the rest."""


class Part(IntEnum):
    """The parts of the page, in their order."""

    SESSION = 0
    BESIDE = 1
    PROPOSED = 2
    OUTCOME = 3
    LATE = 4
    OPEN = 5
    AHEAD = 6


class Row(NamedTuple):
    """A follow-up with its patient, and the visit it is booked for if it is."""

    due: Stored
    patient_id: int
    state: str
    visit: Visit | None


class Entry(NamedTuple):
    """One episode in one part of the day. `locked` is what keeps each activity of this hand shut, whatever the day.

    `again`: a second finger of a visit that stands in the row above.
    """

    person: Person
    due: tuple[Stored, ...]
    line: Line | None
    locked: Locks
    red_flag: bool
    same_name: bool
    visit: Visit | None = None
    again: bool = False


class Section(NamedTuple):
    """`on` is the day for a part that goes by days, `sitting` the session for one that is a session."""

    part: Part
    on: date | None
    entries: list[Entry]
    sitting: Sitting | None = None


class Day(NamedTuple):
    """`on` is the day looked at. `covered` are the colleagues whose items stand here too."""

    on: date
    sections: list[Section]
    cut: bool
    absent: Absent
    covered: frozenset[int]

    def count(self, *parts: Part) -> int:
        return sum(len(section.entries) for section in self.sections if section.part in parts)

    @property
    def sittings(self) -> list[Sitting]:
        return [section.sitting for section in self.sections if section.sitting]

    @property
    def visits(self) -> list[Visit]:
        """Those of the sessions."""
        return [held.visit for sitting in self.sittings for held in sitting.visits]

    @property
    def without_outcome(self) -> int:
        """A running count: of the day's visits, in sessions and elsewhere, and of earlier days."""
        parts = (Part.BESIDE, Part.OUTCOME)
        others = {entry.visit for section in self.sections if section.part in parts for entry in section.entries}
        return sum(not visit.outcome for visit in self.visits) + len(others)


def day_of(
    therapist: Staff, today: date, *, on: date | None = None, at: datetime, absent: Absent, reader: Reader | None = None
) -> Day:
    """A day of one therapist, in four queries however many patients there are; `on` is another day than today.

    Who was booked in a session and is somebody else's patient by now is not named to a reader who does not reach them.
    """
    day, covered = on or today, absent.passed_to(therapist)
    sittings = sittings_of(therapist, day, at)
    held = [each for sitting in sittings for each in sitting.visits]
    limits = limits_of(reader)
    own = limits is not None and limits.staff == therapist.pk and limits.since <= day  # their diary is in their reach
    unseen: frozenset[int] = frozenset() if own else unseen_by(reader, (each.patient_id for each in held))
    booked = {episode for each in held if each.patient_id not in unseen for episode in each.served if episode}
    rows = _rows({therapist.pk, *covered}, booked, day, today)
    parts, cut = _parts(rows, booked_keys(sittings), day, today)
    shown = {row.due.episode_id: row.patient_id for placed in parts.values() for row in placed}
    shown |= {row.due.episode_id: row.patient_id for row in rows if row.due.episode_id in booked}
    make = _Maker(shown, rows, today)
    sections = [*make.sessions(sittings), *make.sections(parts, day)]
    return Day(day, sections, cut, absent, covered)


def booked_keys(sittings: Iterable[Sitting]) -> set[tuple[int, str]]:
    """What the visits of some sessions are for, as episode and key."""
    return {
        (episode, key)
        for sitting in sittings
        for held in sitting.visits
        for episode, keys in held.served.items()
        for key in keys
    }


def _rows(therapists: Iterable[int], booked: Iterable[int], day: date, today: date) -> list[Row]:
    """Every follow-up that is not dropped of the episodes that the day may show, and every one of those booked; the
    first to end come first. Of a therapist's thousands only those are read that have one of the first `MOST` due."""
    read = _SHOWN(sorted(therapists), sorted(booked) or NOBODY, today, day + timedelta(days=AHEAD_DAYS))
    return [Row(Stored(*row[2:_DUE]), row[0], row[1], Visit(*row[_DUE:]) if row[_DUE] else None) for row in read]


def _shown(therapists: Sequence[int], booked: Sequence[int], today: date, horizon: date) -> QuerySet[FollowUp, Any]:
    of_them = Episode.objects.filter(pk__in=_first_due(therapists, today, horizon)).order_by().values("pk")
    shown = of_them.union(Episode.objects.filter(pk__in=booked).order_by().values("pk"))
    found = FollowUp.objects.filter(~Q(state=State.DROPPED) | Q(episode__in=booked), episode__in=shown)
    found = found.annotate(held=FilteredRelation("purposes", condition=Q(purposes__live=True)))
    fields = ("patient_id", "state", *Stored._fields, *visit_fields("held__appointment"))
    return found.order_by("latest_on", "id").values_list(*fields)


_DUE: Final = 2 + len(Stored._fields)
"""Of a row, where the visit begins."""


def _first_due(therapists: Sequence[int], today: date, horizon: date) -> QuerySet[FollowUp, Any]:
    """The episodes of their first `MOST` due, and of the next, which tells that some were left out."""
    own = Q(episode__therapist__in=therapists, episode__ended_on__isnull=True, episode__surgery_on__lte=today)
    begun = Q(earliest_on__lte=horizon) | Q(booked_on__lte=horizon)
    return FollowUp.objects.due().filter(own, begun).order_by("latest_on", "id").values("episode")[: MOST + 1]


_SHOWN: Final = Prepared(_shown)


Parts = dict[tuple[Part, date | None], list[Row]]


def _parts(rows: Iterable[Row], in_sessions: set[tuple[int, str]], day: date, today: date) -> tuple[Parts, bool]:
    """Where each due follow-up stands that is not in a session of the day, and whether some were left out."""
    horizon = day + timedelta(days=AHEAD_DAYS)
    due = [row for row in rows if row.state == State.DUE and _begun(row.due, horizon)]
    parts: Parts = defaultdict(list)
    for row in due[:MOST]:
        placed = place(row.due, day, today)
        if placed and (row.due.episode_id, row.due.key) not in in_sessions:
            parts[placed].append(row)
    return parts, len(due) > MOST


def _begun(row: Stored, horizon: date) -> bool:
    return row.earliest_on <= horizon or (row.booked_on is not None and row.booked_on <= horizon)


def place(row: Stored, day: date, today: date) -> tuple[Part, date | None] | None:
    """The part of a day's page that a due follow-up stands in; None if it is not of these days. What was left undone
    stands on the page of today only."""
    if row.booked_on is not None and row.booked_on >= day:
        return _by_day(Part.BESIDE, row.booked_on, day)
    if row.booked_on is not None:
        return (Part.OUTCOME, None) if day == today else None
    status = row.status(today)
    if status is not Status.LATE and row.proposed_on is not None and row.proposed_on >= day:
        return _by_day(Part.PROPOSED, row.proposed_on, day)
    if day != today or status not in (Status.LATE, Status.OPEN):
        return None
    return Part.LATE if status is Status.LATE else Part.OPEN, None


def _by_day(part: Part, on: date, day: date) -> tuple[Part, date | None] | None:
    if on == day:
        return part, None
    return (Part.AHEAD, on) if on <= day + timedelta(days=AHEAD_DAYS) else None


class _Maker:
    """Makes the entries of a day: what they share is read once."""

    def __init__(self, shown: Mapping[int, int], rows: Iterable[Row], today: date) -> None:
        self.follow_ups: dict[int, list[Row]] = defaultdict(list)
        for row in rows:
            self.follow_ups[row.due.episode_id].append(row)
        self.hands: Hands = locks_of_hands(set(shown.values()), today, shown)
        self.people = {id: self.hands.people[id] for id in shown}
        subjects = [Subject(p.id, p.surgery_on, p.suture, p.stitches_in) for p in self.people.values()]
        self.drawn: Drawn = lines_from(subjects, today, self._kept(), self.hands.findings)
        self.namesakes = _namesakes(self.people.values())

    def sessions(self, sittings: Iterable[Sitting]) -> Iterator[Section]:
        for sitting in sittings:
            entries = [
                self._entry(episode, self._served(episode, keys), held.visit, again=place > 0)
                for held in sitting.visits
                for place, (episode, keys) in enumerate(held.served.items())
                if episode in self.people
            ]
            yield Section(Part.SESSION, None, entries, sitting)

    def sections(self, parts: Parts, day: date) -> Iterator[Section]:
        for (part, on), rows in sorted(parts.items(), key=lambda item: (item[0][0], item[0][1] or day)):
            yield Section(part, on, self._entries(rows))

    def _entries(self, rows: Iterable[Row]) -> list[Entry]:
        together: dict[tuple[int, Visit | None], list[Stored]] = defaultdict(list)
        for row in rows:
            together[row.due.episode_id, row.visit].append(row.due)
        entries = [self._entry(id, due, visit) for (id, visit), due in together.items()]
        return sorted(entries, key=_in_order)

    def _entry(self, id: int, due: Iterable[Stored], visit: Visit | None, again: bool = False) -> Entry:
        person = self.people[id]
        flags = bool(self.drawn.evidence[id].red_flags)
        same_name, locked = person.search_key in self.namesakes, self.hands.locks.get(id, {})
        return Entry(person, tuple(due), self.drawn.lines.get(id), locked, flags, same_name, visit, again)

    def _served(self, episode: int, keys: Iterable[str]) -> list[Stored]:
        wanted = set(keys)
        return [row.due for row in self.follow_ups[episode] if row.due.key in wanted]

    def _kept(self) -> dict[int, list[Stored]]:
        kept = {id: [row.due for row in rows if row.state != State.DROPPED] for id, rows in self.follow_ups.items()}
        return defaultdict(list, kept)


def _in_order(entry: Entry) -> tuple[int, str, int]:
    """What has a time comes first, by time; the rest by name."""
    start = entry.visit.start if entry.visit else None
    return DAY if start is None else start, entry.person.search_key, entry.person.id


def _namesakes(people: Iterable[Person]) -> set[str]:
    """Names that more than one patient of this day bears."""
    bearers: dict[str, set[int]] = defaultdict(set)
    for person in people:
        bearers[person.search_key].add(person.patient_id)
    return {name for name, patients in bearers.items() if len(patients) > 1}
