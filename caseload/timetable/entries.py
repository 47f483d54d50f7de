"""What was booked, attended and carried out, by the name under which it was entered: a follow-up's key or its kind.

A kind with several instances (a re-check, a set review) takes an entry for the earliest instance still due whose anchor
is not after the entry's day.
"""

from collections.abc import Iterable, Iterator
from datetime import date
from typing import Final, NamedTuple

from caseload.timetable.facts import Appointment, EpisodeFacts, follow_up_key
from caseload.timetable.plan import Reason
from caseload.timetable.terms import FollowUpKind, Outcome

Days = dict[str, list[date]]
ATTENDANCE_COMPLETES: Final = frozenset(
    {
        FollowUpKind.WOUND_CHECK,
        FollowUpKind.THERAPY_REVIEW,
        FollowUpKind.SET_REVIEW,
        FollowUpKind.OUTCOME_REVIEW,
    }
)
"""Attending is not enough where a finding is what the visit is for: stitches out and the re-checks."""


class Entries(NamedTuple):
    """Days by name, in order: carried out, attended, and booked (live appointments). `names` are all of them."""

    done: Days
    attended: Days
    booked: Days
    names: frozenset[str] = frozenset()

    def done_on(self, kind: FollowUpKind, key: str) -> date | None:
        """The first day on which it was carried out, or attended where that is enough."""
        days = self.done.get(key, [])
        if kind in ATTENDANCE_COMPLETES:
            days = sorted([*days, *self.attended.get(key, [])])
        return days[0] if days else None

    def booked_on(self, key: str) -> date | None:
        """The day of its live appointment; the first, where there are several."""
        return next(iter(self.booked.get(key, ())), None)


NO_ENTRIES: Final = Entries({}, {}, {})


def read_entries(facts: EpisodeFacts) -> Entries:
    if not facts.done and not facts.appointments:
        return NO_ENTRIES
    done = _by_name(sorted((entry.on, entry.kind) for entry in facts.done))
    attended = _by_name(_served(facts.appointments, Outcome.ATTENDED))
    booked = _by_name(_served(facts.appointments, None))
    return Entries(done, attended, booked, frozenset({*done, *attended, *booked}))


class Instance(NamedTuple):
    """One of several follow-ups of a kind: what caused it, from when it counts, and the finding's day that ended it."""

    kind: FollowUpKind
    cause: str
    anchor_on: date
    ended_on: date | None
    why: Reason

    @property
    def key(self) -> str:
        return follow_up_key(self.kind, self.cause)


def allot(entries: Entries, instances: Iterable[Instance]) -> Entries:
    """The entries with those that name only a kind moved to the key of the instance they mean."""
    in_order = sorted(instances, key=lambda instance: instance.anchor_on)
    done, attended, booked = {**entries.done}, {**entries.attended}, {**entries.booked}
    ended = {instance.key for instance in in_order if instance.ended_on}
    ended |= {instance.key for instance in in_order if entries.done_on(instance.kind, instance.key)}
    for days in (done, attended, booked):
        for instance, on in _meant(in_order, ended, days):
            days[instance.key] = sorted([*days.get(instance.key, []), on])
            if days is not attended or instance.kind in ATTENDANCE_COMPLETES:
                ended.add(instance.key)
    return entries._replace(done=done, attended=attended, booked=booked)


def _meant(instances: list[Instance], ended: set[str], days: Days) -> Iterator[tuple[Instance, date]]:
    for kind in {instance.kind for instance in instances}:
        for on in days.get(kind, []):
            for instance in instances:
                if instance.kind is kind and instance.anchor_on <= on and instance.key not in ended:
                    yield instance, on
                    break


def _served(appointments: Iterable[Appointment], outcome: Outcome | None) -> list[tuple[date, str]]:
    return sorted((held.on, name) for held in appointments if held.outcome is outcome for name in held.serves)


def _by_name(entries: Iterable[tuple[date, str]]) -> Days:
    found: Days = {}
    for on, name in entries:
        found.setdefault(name, []).append(on)
    return found
