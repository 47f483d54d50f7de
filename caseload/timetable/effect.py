"""What a change of rules would do to the caseload: how many episodes would move, which way and by how much.

Each open episode is derived under the rules it has and under the changed ones; only what is due is counted, since what
is done never moves. Sums add up episode by episode, so that a caseload is gone through once, in portions.
"""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Final, NamedTuple

from caseload.timetable.moves import Move, moves
from caseload.timetable.plan import FollowUp, Timetable
from caseload.timetable.standing import safety_alert, status
from caseload.timetable.terms import ActivityKind, Change, Status

SHAPE: Final = 1
KEPT: Final = 10
"""So many of the follow-ups that would move farthest are named."""


class Farthest(NamedTuple):
    """One of the follow-ups that would move farthest: the code of its episode, its kind, the days its target moves."""

    episode: str
    kind: str
    days: int


@dataclass
class Effect:
    """Sums over the episodes looked at.

    `days` are, for each kind of follow-up, how many targets move by so many days (later is positive); 0 is a window
    that changes around its target. `late` are follow-ups that would be late at once and are not now, `in_time` those
    that would not be late any more, `outside` those whose appointment would fall outside its window and does not now,
    `alerts` episodes for which the safety alert would stand at once.
    """

    looked_at: int = 0
    moved: int = 0
    late: int = 0
    in_time: int = 0
    outside: int = 0
    alerts: int = 0
    days: dict[str, Counter[int]] = field(default_factory=dict)
    added: Counter[str] = field(default_factory=Counter)
    dropped: Counter[str] = field(default_factory=Counter)
    activities: Counter[str] = field(default_factory=Counter)
    locks: Counter[str] = field(default_factory=Counter)
    farthest: list[Farthest] = field(default_factory=list)

    def count(self, before: Timetable, after: Timetable, today: date) -> None:
        """Add one open episode."""
        found = moves(before, after)
        self.looked_at += 1
        self.moved += bool(found)
        self.alerts += safety_alert(after, today) and not safety_alert(before, today)
        for move in found:
            self._count_move(move, before.ref)
        was = {each.key: each for each in before.follow_ups}
        for now in after.follow_ups:
            self._count_standing(was.get(now.key), now, today)

    def _count_move(self, move: Move, code: str) -> None:
        if isinstance(move.kind, ActivityKind):
            locks = move.change in (Change.RELOCKED, Change.UNLOCKED)
            (self.locks if locks else self.activities)[str(move.kind)] += 1
        elif isinstance(move.was, FollowUp) and isinstance(move.now, FollowUp) and move.change is Change.MOVED:
            self._count_days(move.was, move.now, code)
        else:
            (self.dropped if move.change is Change.DROPPED else self.added)[str(move.kind)] += 1

    def _count_days(self, was: FollowUp, now: FollowUp, code: str) -> None:
        days = (now.target_on - was.target_on).days
        self.days.setdefault(str(now.kind), Counter())[days] += 1
        far = Farthest(code, str(now.kind), days)
        self.farthest = sorted([*self.farthest, far], key=lambda each: (-abs(each.days), each))[:KEPT]

    def _count_standing(self, was: FollowUp | None, now: FollowUp, today: date) -> None:
        late, before = _late(now, today), was is not None and _late(was, today)
        self.late += late and not before
        self.in_time += before and not late
        self.outside += _outside(now) and (was is None or not _outside(was))

    def to_json(self) -> dict[str, Any]:
        """A body that `from_json` reads back to an equal effect."""
        sums = {name: getattr(self, name) for name in SUMS}
        kinds = {kind: {str(days): count for days, count in found.items()} for kind, found in self.days.items()}
        rest = {name: dict(getattr(self, name)) for name in KINDS}
        return {"shape": SHAPE, **sums, "days": kinds, **rest, "farthest": [list(each) for each in self.farthest]}

    @classmethod
    def from_json(cls, body: Mapping[str, Any]) -> "Effect":
        days = {
            kind: Counter({int(days): count for days, count in found.items()}) for kind, found in body["days"].items()
        }
        read: dict[str, Any] = {name: body[name] for name in SUMS} | {name: Counter(body[name]) for name in KINDS}
        return cls(**read, days=days, farthest=[Farthest(*each) for each in body["farthest"]])


SUMS: Final = ("looked_at", "moved", "late", "in_time", "outside", "alerts")
KINDS: Final = ("added", "dropped", "activities", "locks")


def _late(follow_up: FollowUp, today: date) -> bool:
    return status(follow_up, today) is Status.LATE


def _outside(follow_up: FollowUp) -> bool:
    on = follow_up.booked_on
    return follow_up.is_due and on is not None and not follow_up.has_inside(on)
