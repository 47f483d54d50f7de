"""What acts leave for later while many are carried out together (`settle.together`): settling, notices, their trail."""

from collections.abc import Iterable
from contextvars import ContextVar
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any


@dataclass
class Pending:
    """`unsettled` are keys of episodes; each entry of the trail knows the episodes that its act would have settled.
    `appointments` are keys of those whose notices are to be looked at, as of the latest act that left one.
    """

    unsettled: set[int] = field(default_factory=set)
    entries: list[tuple[dict[str, Any], tuple[int, ...]]] = field(default_factory=list)
    appointments: set[int] = field(default_factory=set)
    latest: datetime | None = None
    _touched: list[int] = field(default_factory=list)

    def leave(self, episode_id: int) -> None:
        self.unsettled.add(episode_id)
        self._touched.append(episode_id)

    def leave_notices(self, appointments: Iterable[int], at: datetime) -> None:
        self.appointments.update(appointments)
        self.latest = max(self.latest or at, at)

    def enter(self, entry: dict[str, Any]) -> None:
        """An act settles before it writes its entry: what was left since the last entry is this one's."""
        self.entries.append((entry, tuple(self._touched)))
        self._touched.clear()


pending: ContextVar[Pending | None] = ContextVar("pending", default=None)
