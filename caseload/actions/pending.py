"""What acts leave for later while many are carried out together (`settle.together`): settling, and their trail."""

from contextvars import ContextVar
from dataclasses import dataclass, field
from typing import Any


@dataclass
class Pending:
    """`unsettled` are keys of episodes; each entry of the trail knows the episodes that its act would have settled."""

    unsettled: set[int] = field(default_factory=set)
    entries: list[tuple[dict[str, Any], tuple[int, ...]]] = field(default_factory=list)
    _touched: list[int] = field(default_factory=list)

    def leave(self, episode_id: int) -> None:
        self.unsettled.add(episode_id)
        self._touched.append(episode_id)

    def enter(self, entry: dict[str, Any]) -> None:
        """An act settles before it writes its entry: what was left since the last entry is this one's."""
        self.entries.append((entry, tuple(self._touched)))
        self._touched.clear()


pending: ContextVar[Pending | None] = ContextVar("pending", default=None)
