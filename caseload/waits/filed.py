"""A month's figures as they are filed, with the waits that they were made of; and what later entries make of them.

A body never changes. `restated` lays what is known now beside it and names each wait that moved. Waits are written as
they stood at the end of the month, so that a wait that only went on moves nothing.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from math import inf
from typing import Any, Final, NamedTuple

from caseload.waits.bodies import read, write
from caseload.waits.clocks import Targets
from caseload.waits.figures import Day, Figures, Share, Summary
from caseload.waits.rows import Period
from caseload.waits.terms import Clock, End

SHAPE: Final = 1
NEAR: Final = 1e-9
"""What two floats may differ by that were worked out alike on two machines."""


class Counted(NamedTuple):
    """One wait as it stood at the end of the month. `of` is the code of its episode or referral; nobody is named."""

    clock: Clock
    of: str
    key: str
    started_on: date
    ended: str
    stopped_on: date | None = None
    entered_on: date | None = None
    earliest_on: date | None = None
    target_on: date | None = None
    due_on: date | None = None
    missed_on: date | None = None
    restarted_on: date | None = None
    site: str = ""
    surgeon: str = ""
    suture: str = ""
    priority: str = ""


def as_at(wait: Counted, last: date) -> Counted:
    """The wait as it stood at the end of the day `last`: what came later is not known yet.

    Days of a target that lie beyond it matter only to a wait that is over, so an open one has none of them.
    """
    if wait.stopped_on is None or wait.stopped_on > last:
        target_on, due_on = _by(wait.target_on, last), _by(wait.due_on, last)
        missed_on, restarted_on = _by(wait.missed_on, last), _by(wait.restarted_on, last)
        return wait._replace(
            stopped_on=None, ended=End.WAITING, earliest_on=None, target_on=target_on, due_on=due_on,
            missed_on=missed_on, restarted_on=restarted_on,
        )  # fmt: skip
    return wait


def waits_of(rows: Iterable[Counted], month: Period) -> tuple[Counted, ...]:
    """Of waits as they are now, those that some figure of the month is made of, as they stood at its end."""
    return tuple(as_at(row, month.last) for row in rows if bears_on(row, month))


def bears_on(wait: Counted, month: Period) -> bool:
    """Whether it ran with us on a day of the month, or its target day fell in it."""
    first, last = month
    if any(day is not None and first <= day <= last for day in (wait.due_on, wait.target_on)):
        return True
    came = wait.entered_on or wait.started_on
    return came <= last and (wait.stopped_on is None or wait.stopped_on >= first)


def _by(day: date | None, last: date) -> date | None:
    return day if day is not None and day <= last else None


@dataclass(frozen=True, slots=True)
class Filed:
    """What is filed of a month: `rules` are name and version of those in use, `names` those of sites and therapists by
    their codes."""

    month: Period
    rules: tuple[str, ...]
    targets: Targets
    figures: Mapping[Clock, Figures]
    waits: tuple[Counted, ...]
    names: Mapping[str, str]

    def to_json(self) -> dict[str, Any]:
        return {
            "shape": SHAPE,
            "month": write(self.month),
            "rules": list(self.rules),
            "targets": write(self.targets),
            "figures": write(self.figures),
            "waits": {"columns": list(Counted._fields), "rows": [write(tuple(wait)) for wait in self.waits]},
            "names": dict(self.names),
        }

    @classmethod
    def from_json(cls, body: Mapping[str, Any]) -> "Filed":
        """Raises ValueError on a shape that is not known."""
        if body["shape"] != SHAPE:
            raise ValueError(f"A filed month of shape {body['shape']} cannot be read.")
        return cls(
            month=read(Period, body["month"]),
            rules=tuple(body["rules"]),
            targets=read(Targets, body["targets"]),
            figures=read(dict[Clock, Figures], body["figures"]),
            waits=read_waits(body["waits"]),
            names=body["names"],
        )


def read_waits(body: Mapping[str, Any]) -> tuple[Counted, ...]:
    """The waits of a filed month alone; by hand, since there may be thousands of them, all alike."""
    columns = body["columns"]
    days = [place for place, name in enumerate(columns) if name.endswith("_on")]
    return tuple(_counted(columns, days, list(row)) for row in body["rows"])


def _counted(columns: list[str], days: Iterable[int], values: list[Any]) -> Counted:
    for place in days:
        if values[place] is not None:
            values[place] = date.fromisoformat(values[place])
    wait = Counted(**dict(zip(columns, values, strict=True)))
    return wait._replace(clock=Clock(wait.clock))


class Told(StrEnum):
    """The figures that are laid side by side."""

    AT_START = "at-start"
    BEGAN = "began"
    SEEN = "seen"
    ENDED_OTHERWISE = "ended-otherwise"
    WAITING = "waiting"
    MEDIAN = "median"
    CENTILE_92 = "centile-92"
    WITHIN = "within"
    WITHIN_COMPLETED = "within-completed"
    COMPLETED_MEDIAN = "completed-median"
    COMPLETED_92 = "completed-92"


WINDOW: Final = frozenset({"earliest_on", "target_on", "due_on"})
SHARES: Final = frozenset({Told.WITHIN, Told.WITHIN_COMPLETED})
OF_A_SITE: Final = (Told.SEEN, Told.WAITING, Told.MEDIAN, Told.CENTILE_92)
Value = int | float | None


class Line(NamedTuple):
    """One figure of all, or of the site with the code `site` (empty: of no known site), as filed and as now known.

    None: cannot be said; infinite: a day that the curve does not reach.
    """

    figure: Told
    filed: Value
    now: Value
    site: str | None = None

    @property
    def moved(self) -> bool:
        if self.filed is None or self.now is None:
            return self.filed is not self.now
        return abs(self.filed - self.now) > NEAR

    @property
    def by(self) -> Value:
        """How far it moved; None where one of the two cannot be said or is not reached."""
        if self.filed is None or self.now is None or inf in (self.filed, self.now):
            return None
        return self.now - self.filed


class Moved(NamedTuple):
    """A wait that is not what it was: new where `was` is None, gone where `now` is None."""

    was: Counted | None
    now: Counted | None

    @property
    def wait(self) -> Counted:
        """As it is now, or was last."""
        found = self.now or self.was
        assert found is not None
        return found

    @property
    def fields(self) -> tuple[str, ...]:
        """What is different of one that was and is. An open wait has no days of a target beyond the month, so those say
        nothing where one is open and the other over."""
        if self.was is None or self.now is None:
            return ()
        left_out = frozenset() if (self.was.stopped_on is None) == (self.now.stopped_on is None) else WINDOW
        found = (name for name in Counted._fields if getattr(self.was, name) != getattr(self.now, name))
        return tuple(name for name in found if name not in left_out)

    @property
    def days(self) -> set[date]:
        """The days in which the two differ."""
        was, now = ({day for day in each or () if isinstance(day, date)} for each in self)
        return was ^ now


class Restated(NamedTuple):
    """`targets` and `rules` are those that differ, was and now; `names` are those of now, and of then for what is gone.

    Where `moved` is empty nothing was entered late; figures then differ only by rules or targets, or not at all.
    """

    lines: dict[Clock, tuple[Line, ...]]
    moved: tuple[Moved, ...]
    targets: dict[str, tuple[int | None, int | None]]
    rules: tuple[tuple[str, ...], tuple[str, ...]]
    names: dict[str, str]

    @property
    def nothing(self) -> bool:
        return not (self.moved or self.targets or any(line.moved for lines in self.lines.values() for line in lines))


def restated(filed: Filed, now: Filed) -> Restated:
    """What was filed of a month beside what is known of the same month now."""
    names = {**filed.names, **now.names}
    return Restated(
        lines={clock: _lines(figures, now.figures[clock]) for clock, figures in filed.figures.items()},
        moved=moves(filed.waits, now.waits),
        targets=_differing(filed.targets, now.targets),
        rules=(filed.rules, now.rules),
        names=names,
    )


def moves(was: Iterable[Counted], now: Iterable[Counted]) -> tuple[Moved, ...]:
    """Each wait that is new, gone or another than it was; in the order of clocks and of the days they began on."""
    before, after = ({_name(wait): wait for wait in waits} for waits in (was, now))
    found = [Moved(before.get(name), after.get(name)) for name in before.keys() | after.keys()]
    order = list(Clock)
    return tuple(
        sorted(
            (each for each in found if each.was != each.now),
            key=lambda each: (order.index(each.wait.clock), each.wait.started_on, each.wait.of, each.wait.key),
        )
    )


def _name(wait: Counted) -> tuple[str, str]:
    return wait.of, wait.key


def _lines(filed: Figures, now: Figures) -> tuple[Line, ...]:
    """Of all, then of each site in the order of codes."""
    was_of, is_of = told(filed.now), told(now.now)
    lines = [Line(figure, was_of[figure], is_of[figure]) for figure in Told]
    was_at, is_at = _of_sites(filed), _of_sites(now)
    for site in sorted(was_at.keys() | is_at.keys()):
        was, here = was_at.get(site, {}), is_at.get(site, {})
        lines += [Line(figure, was.get(figure), here.get(figure), site) for figure in OF_A_SITE]
    return tuple(lines)


def told(summary: Summary) -> dict[Told, Value]:
    """The figures of a summary by name; shares between 0 and 1."""
    return {
        Told.AT_START: summary.at_start,
        Told.BEGAN: summary.began,
        Told.SEEN: summary.seen,
        Told.ENDED_OTHERWISE: sum(summary.competing.values()),
        Told.WAITING: summary.waiting,
        Told.MEDIAN: _reached(summary.refused, summary.median),
        Told.CENTILE_92: _reached(summary.refused, summary.centile_92),
        Told.WITHIN: _share(summary.within),
        Told.WITHIN_COMPLETED: _share(summary.within_completed),
        Told.COMPLETED_MEDIAN: summary.completed_median,
        Told.COMPLETED_92: summary.completed_92,
    }


def _reached(refused: str, day: Day) -> Value:
    if refused:
        return None
    return inf if day.day is None else day.day


def _share(share: Share | None) -> float | None:
    return share.share if share else None


def _of_sites(figures: Figures) -> dict[str, dict[Told, Value]]:
    """Where there are sites to compare."""
    groups: Sequence[Any] = figures.groups["site"].groups if "site" in figures.groups else ()
    return {
        group.key: {
            Told.SEEN: group.seen,
            Told.WAITING: group.waiting,
            Told.MEDIAN: _reached(group.refused, group.median),
            Told.CENTILE_92: _reached(group.refused, group.centile_92),
        }
        for group in groups
    }


def _differing(was: Targets, now: Targets) -> dict[str, tuple[int | None, int | None]]:
    both = zip(Targets._fields, was, now, strict=True)
    return {name: (before, after) for name, before, after in both if before != after}
