"""What is due, read once for all stories whenever everything is settled: they ask some five thousand times."""

from collections import defaultdict
from collections.abc import Collection

from caseload.models import FollowUp, State
from caseload.timetable.terms import FollowUpKind


class Agenda:
    def __init__(self) -> None:
        self._due: dict[int, list[FollowUp]] = {}

    def read(self) -> None:
        """Everything that is due now, of all episodes."""
        self._due = defaultdict(list)
        for row in FollowUp.objects.filter(state=State.DUE).order_by("episode_id", "latest_on"):
            self._due[row.episode_id].append(row)

    def of(self, episode: int, kinds: Collection[FollowUpKind]) -> list[FollowUp]:
        """What is due of an episode, the first to end first, as it was when it was read."""
        return [row for row in self._due.get(episode, ()) if row.kind in kinds]
