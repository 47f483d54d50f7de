"""Concerns over time: an episode's headline on any day, and the same as a partition of all days.

The partition is what is stored: "who is overdue on this day" is then a query on two dates.
"""

from collections.abc import Iterable, Sequence
from datetime import date
from typing import NamedTuple

from caseload.timetable.facts import FIRST_DAY
from caseload.timetable.plan import Concern, Timetable
from caseload.timetable.terms import Headline, Owner, rank


class Stretch(NamedTuple):
    """Days over which headline and owner stay the same: from `from_on` until before `until_on` (None: for ever).

    `headline` is None for "in hand". `others` are the headlines under it, most pressing first.
    """

    from_on: date
    until_on: date | None
    headline: Headline | None
    owner: Owner | None
    follow_up: str | None
    due_on: date | None
    others: tuple[Headline, ...]


def pressing(concern: Concern) -> tuple[int, date]:
    """The order of concerns: by headline, then the longest due."""
    return rank(concern.headline), concern.due_on


def headline(concerns: Iterable[Concern], today: date) -> Concern | None:
    """The most pressing concern of a day; None when all is in hand."""
    return min(_standing(concerns, today), key=pressing, default=None)


def owner_on(concern: Concern, today: date) -> Owner:
    """Whose a concern is on a day."""
    return concern.then_owner if concern.then_owner and concern.then_on and today >= concern.then_on else concern.owner


def stretches(timetable: Timetable) -> tuple[Stretch, ...]:
    """The whole time of an episode on the caseload, in order and without a gap: from surgery, or since ever if that is
    not known. Empty for a closed episode."""
    if not timetable.is_open:
        return ()
    begins_on = timetable.surgery_on or FIRST_DAY
    concerns = timetable.concerns
    turns = {concern.from_on for concern in concerns} | {concern.then_on for concern in concerns if concern.then_on}
    days = [begins_on, *sorted(day for day in turns if day > begins_on)]
    return _joined([_stretch(concerns, day) for day in days])


def _standing(concerns: Iterable[Concern], today: date) -> list[Concern]:
    return [concern for concern in concerns if concern.from_on <= today]


def _stretch(concerns: Iterable[Concern], day: date) -> Stretch:
    standing = sorted(_standing(concerns, day), key=pressing)
    if not standing:
        return Stretch(day, None, None, None, None, None, ())
    first, *rest = standing
    others = tuple(dict.fromkeys(concern.headline for concern in rest))
    return Stretch(day, None, first.headline, owner_on(first, day), first.follow_up, first.due_on, others)


def _joined(parts: Sequence[Stretch]) -> tuple[Stretch, ...]:
    """Neighbours that say the same become one; each ends where the next begins."""
    kept = [part for part, before in zip(parts, (None, *parts), strict=False) if not before or part[2:] != before[2:]]
    ends = [part.from_on for part in kept[1:]]
    return tuple(part._replace(until_on=end) for part, end in zip(kept, [*ends, None], strict=True))
