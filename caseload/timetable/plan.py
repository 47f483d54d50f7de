"""What deriving gives: the timetable of one episode, as values. Reasons are data; `caseload.wording` makes sentences.

Tuples with names, because deriving makes some twenty of them for each episode and a tuple is the quickest value.
"""

from datetime import date
from typing import NamedTuple

from caseload.timetable.terms import ActivityKind, Anchor, FollowUpKind, Headline, Lock, Mark, Owner


class Reason(NamedTuple):
    """One step of "why this date?": a code that `caseload.wording.reasons` knows, and the values of its sentence."""

    code: str
    values: tuple[object, ...] = ()


class FollowUp(NamedTuple):
    """Something staff must do inside a window.

    `proposed_on` is the open day inside the window nearest the target, None if the window holds none; then
    `first_after_on` is the first open day after it. `minutes` is 0 where no visit is needed. `provisional` says that
    the anchor is not recorded yet; such a follow-up is never late. `booked_on` is the day of its live appointment.
    `dropped` says that it is not needed any more (episode closed, or replaced by a re-check).
    """

    key: str
    kind: FollowUpKind
    cause: str | None
    anchor: Anchor
    anchor_on: date
    earliest_on: date
    target_on: date
    latest_on: date
    proposed_on: date | None
    first_after_on: date | None
    provisional: bool
    minutes: int
    in_person: bool
    done_on: date | None
    dropped: bool
    booked_on: date | None
    reasons: tuple[Reason, ...]

    @property
    def is_due(self) -> bool:
        return self.done_on is None and not self.dropped

    def has_inside(self, day: date) -> bool:
        """Whether a day lies in its window, the first and the last day included."""
        return self.earliest_on <= day <= self.latest_on


class Activity(NamedTuple):
    """Something the patient may do from a day on.

    `locks` are the gates and instructions that keep it locked whatever the day; the day floor is `from_on`.
    """

    kind: ActivityKind
    from_on: date
    aim_on: date | None
    until_on: date | None
    locks: tuple[Lock, ...]
    provisional: bool
    reasons: tuple[Reason, ...]

    def locked_by(self, today: date) -> tuple[Lock, ...]:
        """Everything that keeps it locked on `today`, the day itself last."""
        return (*self.locks, Lock.DAY) if today < self.from_on else self.locks


class Concern(NamedTuple):
    """A headline that applies from a day on until an act ends it; the passing of days never ends one.

    `owner` has it from `from_on`, and `then_owner` from `then_on`. `due_on` is the day its lateness counts from.
    """

    headline: Headline
    from_on: date
    owner: Owner
    due_on: date
    follow_up: str | None = None
    then_on: date | None = None
    then_owner: Owner | None = None


class NextStep(NamedTuple):
    """What happens next: a follow-up's kind (or `missing-fact`), the day, whose it is, and the follow-up's key."""

    kind: str
    on: date
    owner: Owner
    follow_up: str | None


class Timetable(NamedTuple):
    """All follow-ups and activities of one episode, what is or becomes wrong with it, and what comes next.

    `safety_from` is the day from which the safety alert stands, None while nothing calls for one. `is_open` is false
    for a closed episode, which has neither concerns nor a next step.
    """

    ref: str
    rules: str
    surgery_on: date | None
    follow_ups: tuple[FollowUp, ...]
    activities: tuple[Activity, ...]
    concerns: tuple[Concern, ...]
    safety_from: date | None
    next_step: NextStep | None
    marks: tuple[Mark, ...]
    is_open: bool = True
