"""A therapist's day: whom they see, what is due or open by day, what still needs an outcome, and what is late.

Until there are sessions, a day is what is booked for it, and what the timetable proposes for it and nobody has booked.
"""

from collections import defaultdict
from collections.abc import Iterable
from datetime import date, timedelta
from enum import IntEnum
from typing import NamedTuple

from django.db.models import Q

from caseload.models import FollowUp, Staff, State
from caseload.reads.lines import Drawn, Line, Stored, Subject, lines_of
from caseload.reads.locks import locks_of_hands
from caseload.timetable.activities import Locks
from caseload.timetable.terms import Status

AHEAD_DAYS = 7
MOST = 150
"""So many due follow-ups of one therapist are looked at, the first to end first; the overdue list has the rest."""


class Part(IntEnum):
    """The parts of the page, in their order."""

    TODAY = 0
    OUTCOME = 1
    LATE = 2
    OPEN = 3
    AHEAD = 4


class Person(NamedTuple):
    """An episode with its patient, as a row of the day shows them."""

    id: int
    code: str
    side: str
    digit: str
    suture: str
    stitches_in: int | None
    surgery_on: date | None
    raised_risk: bool
    patient_id: int
    family: str
    given: str
    born_on: date | None
    language: str
    interpreter: bool
    dressing_allergy: str
    search_key: str


class Entry(NamedTuple):
    """One episode in one part of the day. `locked` is what keeps each activity of this hand shut, whatever the day."""

    person: Person
    due: tuple[Stored, ...]
    line: Line | None
    locked: Locks
    red_flag: bool
    same_name: bool


class Section(NamedTuple):
    """`on` is the day for a part that goes by days."""

    part: Part
    on: date | None
    entries: list[Entry]


class Day(NamedTuple):
    sections: list[Section]
    cut: bool

    def count(self, part: Part) -> int:
        return sum(len(section.entries) for section in self.sections if section.part is part)


_PERSON = (
    "episode_id", "episode__code", "episode__side", "episode__digit", "episode__suture", "episode__stitches_in",
    "episode__surgery_on", "episode__raised_risk", "patient_id", "patient__family", "patient__given",
    "patient__born_on", "patient__language", "patient__interpreter", "patient__dressing_allergy",
    "patient__search_key",
)  # fmt: skip


def day_of(therapist: Staff, today: date) -> Day:
    """The day of one therapist, in five queries however many patients there are."""
    due = _due(therapist, today)
    people = {person.id: person for person, _ in due[:MOST]}
    hands = locks_of_hands({person.patient_id for person in people.values()}, today)
    subjects = [Subject(p.id, p.surgery_on, p.suture, p.stitches_in) for p in people.values()]
    drawn = lines_of(subjects, today, hands.findings)
    namesakes = _namesakes(people.values())
    parts: dict[tuple[Part, date | None], dict[int, list[Stored]]] = defaultdict(lambda: defaultdict(list))
    for person, follow_up in due[:MOST]:
        placed = place(follow_up, today)
        if placed:
            parts[placed][person.id].append(follow_up)
    parts[Part.TODAY, today]  # stands first even if nobody is due
    sections = [
        Section(part, on, _entries(found, people, drawn, hands.locks, namesakes))
        for (part, on), found in sorted(parts.items(), key=lambda item: (item[0][0], item[0][1] or today))
    ]
    return Day(sections, len(due) > MOST)


def _due(therapist: Staff, today: date) -> list[tuple[Person, Stored]]:
    """What is due and has begun, or begins or is booked within a week; the first to end come first."""
    horizon = today + timedelta(days=AHEAD_DAYS)
    rows = FollowUp.objects.filter(
        Q(earliest_on__lte=horizon) | Q(booked_on__lte=horizon),
        state=State.DUE,
        episode__therapist=therapist,
        episode__ended_on__isnull=True,
        episode__surgery_on__lte=today,
    ).order_by("latest_on", "id")
    split = len(_PERSON)
    fields = (*_PERSON, *Stored._fields)
    return [(Person(*row[:split]), Stored(*row[split:])) for row in rows.values_list(*fields)[: MOST + 1]]


def place(row: Stored, today: date) -> tuple[Part, date | None] | None:
    """The part of the page that a due follow-up stands in; None if it is not of these days."""
    if row.booked_on is not None:
        return _by_day(row.booked_on, today) if row.booked_on >= today else (Part.OUTCOME, None)
    status = row.status(today)
    if status is Status.LATE:
        return Part.LATE, None
    if row.proposed_on is not None and row.proposed_on >= today:
        return _by_day(row.proposed_on, today)
    return (Part.OPEN, None) if status is Status.OPEN else None


def _by_day(on: date, today: date) -> tuple[Part, date | None] | None:
    if on == today:
        return Part.TODAY, on
    return (Part.AHEAD, on) if on <= today + timedelta(days=AHEAD_DAYS) else None


def _entries(
    found: dict[int, list[Stored]],
    people: dict[int, Person],
    drawn: Drawn,
    locked: dict[int, Locks],
    namesakes: set[str],
) -> list[Entry]:
    entries = [
        Entry(
            people[id],
            tuple(due),
            drawn.lines.get(id),
            locked[id],
            bool(drawn.evidence[id].red_flags),
            people[id].search_key in namesakes,
        )
        for id, due in found.items()
    ]
    return sorted(entries, key=lambda entry: (entry.person.search_key, entry.person.id))


def _namesakes(people: Iterable[Person]) -> set[str]:
    """Names that more than one patient of this day bears."""
    bearers: dict[str, set[int]] = defaultdict(set)
    for person in people:
        bearers[person.search_key].add(person.patient_id)
    return {name for name, patients in bearers.items() if len(patients) > 1}
