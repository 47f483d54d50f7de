"""The wall clock of a site: sessions keep their hours over a clock change.

Decides: which instant a local minute is, and which local minutes do not exist. An ambiguous local time is its first
occurrence (RFC 5545, section 3.3.5); one that a clock change leaves out is refused, never moved.
"""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from caseload.booking.slots import clock
from caseload.errors import Refusal
from caseload.parsing.day_forms import in_words


def instant_of(on: date, minute: int, zone: str) -> datetime:
    """The instant, in UTC, of a minute of a local day. Raises Refusal `no-such-time` where the clocks leave it out."""
    if not exists(on, minute, zone):
        said = f"On {in_words(on)} the clocks go forward and leave out {clock(minute)}: choose another time."
        raise Refusal("no-such-time", said, field="start")
    return _instant(on, minute, zone)


def exists(on: date, minute: int, zone: str) -> bool:
    """Whether the clocks of a zone show this minute on this day at all."""
    back = _instant(on, minute, zone).astimezone(ZoneInfo(zone))
    return back.replace(tzinfo=None) == _wall(on, minute)


def local_of(at: datetime, zone: str) -> tuple[date, int]:
    """The local day and the minute of that day at an instant that knows its own zone."""
    local = at.astimezone(ZoneInfo(zone))
    return local.date(), local.hour * 60 + local.minute


def _instant(on: date, minute: int, zone: str) -> datetime:
    return _wall(on, minute).replace(tzinfo=ZoneInfo(zone)).astimezone(UTC)


def _wall(on: date, minute: int) -> datetime:
    """What the clock on the wall shows; minute 1440 is midnight at the end of the day."""
    return datetime.combine(on, time.min) + timedelta(minutes=minute)
