"""A sign of life of each piece of background work: a row that says when it last looked for something to do."""

from datetime import datetime, timedelta
from typing import Final

from caseload.actions.turns import in_turn
from caseload.models import Pulse

EVERY: Final = timedelta(seconds=10)

_shown: dict[str, datetime] = {}


def pulse(name: str, now: datetime) -> None:
    """Say that `name` (“background notices”) is alive; written every ten seconds at most, however often it is said."""
    last = _shown.get(name)
    if last and last <= now < last + EVERY:
        return
    with in_turn():
        Pulse.objects.bulk_create(
            [Pulse(name=name, at=now)], update_conflicts=True, unique_fields=["name"], update_fields=["at"]
        )
    _shown[name] = now
