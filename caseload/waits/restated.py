"""What later entries make of a filed month: as filed, as now known, and each wait that moved it."""

from collections.abc import Iterable
from datetime import date
from enum import StrEnum
from math import inf
from typing import Final, NamedTuple

from caseload.waits.clocks import Targets
from caseload.waits.figures import Figures, Share, Summary
from caseload.waits.filed import Counted, Filed
from caseload.waits.terms import Clock
from caseload.waits.verdicts import reached

NEAR: Final = 1e-9
"""What two floats may differ by that were worked out alike on two machines."""


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
    return Restated(
        lines={clock: _lines(figures, now.figures[clock]) for clock, figures in filed.figures.items()},
        moved=moves(filed.waits, now.waits),
        targets=_differing(filed.targets, now.targets),
        rules=(filed.rules, now.rules),
        names={**filed.names, **now.names},
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
        Told.MEDIAN: reached(summary, summary.median),
        Told.CENTILE_92: reached(summary, summary.centile_92),
        Told.WITHIN: _share(summary.within),
        Told.WITHIN_COMPLETED: _share(summary.within_completed),
        Told.COMPLETED_MEDIAN: summary.completed_median,
        Told.COMPLETED_92: summary.completed_92,
    }


def _share(share: Share | None) -> float | None:
    return share.share if share else None


def _of_sites(figures: Figures) -> dict[str, dict[Told, Value]]:
    """Where there are sites to compare."""
    groups = figures.groups["site"].groups if "site" in figures.groups else ()
    return {
        group.key: {
            Told.SEEN: group.seen,
            Told.WAITING: group.waiting,
            Told.MEDIAN: reached(group, group.median),
            Told.CENTILE_92: reached(group, group.centile_92),
        }
        for group in groups
    }


def _differing(was: Targets, now: Targets) -> dict[str, tuple[int | None, int | None]]:
    both = zip(Targets._fields, was, now, strict=True)
    return {name: (before, after) for name, before, after in both if before != after}
