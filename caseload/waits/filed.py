"""A month's figures as they are filed, with the waits that they were made of.

A body never changes; `restated` lays what is known now beside it. Waits are written as they stood at the end of the
month, so that a wait that only went on moves nothing.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Final, NamedTuple

from caseload.waits.bodies import read, write
from caseload.waits.clocks import Targets
from caseload.waits.figures import Figures
from caseload.waits.rows import Period
from caseload.waits.terms import Clock, End

SHAPE: Final = 1


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
    if wait.stopped_on is not None and wait.stopped_on <= last:
        return wait
    return wait._replace(
        stopped_on=None,
        ended=End.WAITING,
        earliest_on=None,
        target_on=_by(wait.target_on, last),
        due_on=_by(wait.due_on, last),
        missed_on=_by(wait.missed_on, last),
        restarted_on=_by(wait.restarted_on, last),
    )


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
