"""The grid of a session: slots of 20 minutes, named by the minute of the local day on which they begin."""

from typing import Final

SLOT: Final = 20
"""Minutes of a slot."""
STEP: Final = 10
"""A session begins on a whole ten minutes."""
LONGEST: Final = 60
"""The longest visit for several follow-ups together, before an interpreter is added."""
INTERPRETER: Final = 20
"""Minutes more with an interpreter."""
DAY: Final = 24 * 60


def slots_in(start: int, end: int) -> tuple[int, ...]:
    """The first minutes of the whole slots between two minutes of a day."""
    return tuple(range(start, end - SLOT + 1, SLOT))


def slots_for(start: int, minutes: int) -> tuple[int, ...]:
    """The slots that a visit takes, one after the other; a slot begun is taken whole."""
    return tuple(range(start, start + minutes, SLOT))


def clock(minute: int) -> str:
    """`09:20`."""
    return f"{minute // 60:02}:{minute % 60:02}"
