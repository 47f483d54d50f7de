"""What an instruction can be about, as it stands in the timetable of one episode: beside the form that changes it."""

from datetime import date
from typing import NamedTuple

from caseload.models import Episode
from caseload.reads.timetables import hand_timetable
from caseload.timetable.orders import ORDERABLE
from caseload.timetable.terms import ActivityKind, FollowUpKind, Lock


class Stands(NamedTuple):
    """An item with its first and last day (None: no end), and what keeps it locked; `ordered` if by an instruction."""

    kind: FollowUpKind | ActivityKind
    from_on: date
    until_on: date | None
    locked_by: tuple[Lock, ...]
    ordered: bool

    def days(self, surgery_on: date) -> str:
        """Its days as they stand, counted from surgery: “now day 35 to 56”, “now from day 3”."""
        first = (self.from_on - surgery_on).days
        if self.until_on is None:
            return f"now from day {first}"
        return f"now day {first} to {(self.until_on - surgery_on).days}"


def orderable(episode: Episode, *, today: date) -> list[Stands]:
    """Each follow-up that is still due and each activity; a constant number of queries."""
    timetable = hand_timetable(episode, today=today)
    ordered = set(episode.instructions.filter(withdrawn_at__isnull=True).values_list("item", flat=True))
    due = [row for row in timetable.follow_ups if row.is_due and row.kind in ORDERABLE]
    return [
        *(Stands(row.kind, row.earliest_on, row.latest_on, (), row.kind in ordered) for row in due),
        *(
            Stands(row.kind, row.from_on, row.until_on, row.locked_by(today), row.kind in ordered)
            for row in timetable.activities
        ),
    ]
