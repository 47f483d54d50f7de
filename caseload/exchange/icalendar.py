"""Appointments as an iCalendar file (RFC 5545): instants of UTC, CRLF, lines of at most 75 octets.

The texts are the caller's, who keeps patients' names out; nothing is added. The same events give the same bytes.
"""

from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Final, Literal, NamedTuple

from icalendar import Calendar, vText
from icalendar import Event as Entry

Method = Literal["PUBLISH", "REQUEST", "CANCEL"]

_PRODUCER: Final = "-//Caseload planner//EN"


class Event(NamedTuple):
    """One appointment. Its `uid` never changes; `sequence` starts at 0 and is raised on each move and cancellation."""

    uid: str
    sequence: int
    starts_at: datetime
    ends_at: datetime
    changed_at: datetime
    cancelled: bool
    summary: str
    location: str = ""


def calendar_file(events: Iterable[Event], *, name: str, method: Method = "PUBLISH") -> bytes:
    """The events in their order, the cancelled kept and marked. All times are aware.

    Raises ValueError on a time without a zone, on an end not after its start, and on METHOD CANCEL for an event that
    stands (RFC 5546, 3.2.5).
    """
    calendar = Calendar()
    calendar.add("prodid", _PRODUCER)
    calendar.add("version", "2.0")
    calendar.add("method", method)
    # RFC 7986 and, for the programs that do not know it, the older name; as text, so that commas are escaped.
    for key in ("name", "x-wr-calname"):
        calendar.add(key, vText(name))
    for event in events:
        if method == "CANCEL" and not event.cancelled:
            raise ValueError(f"{event.uid} stands and cannot be cancelled by a file.")
        calendar.add_component(_entry(event))
    data: bytes = calendar.to_ical()
    return data


def _entry(event: Event) -> Entry:
    """Ends after it starts (RFC 5545, 3.8.2.2); a cancelled visit takes no time of the one who keeps the calendar."""
    starts_at, ends_at, changed_at = map(_instant, (event.starts_at, event.ends_at, event.changed_at))
    if ends_at <= starts_at:
        raise ValueError(f"{event.uid} does not end after it starts.")
    entry = Entry()
    entry.add("uid", event.uid)
    entry.add("sequence", event.sequence)
    entry.add("dtstamp", changed_at)
    entry.add("last-modified", changed_at)
    entry.add("dtstart", starts_at)
    entry.add("dtend", ends_at)
    entry.add("status", "CANCELLED" if event.cancelled else "CONFIRMED")
    entry.add("transp", "TRANSPARENT" if event.cancelled else "OPAQUE")
    entry.add("class", "PRIVATE")
    entry.add("summary", event.summary)
    if event.location:
        entry.add("location", event.location)
    return entry


def _instant(at: datetime) -> datetime:
    """In UTC. A time without a zone would be read in the zone of this machine."""
    if at.tzinfo is None:
        raise ValueError(f"{at} has no zone.")
    return at.astimezone(UTC)
