"""The program: a column for each visit on a day and one for each start; a row for each visit, slot and group.

Nobody who is kept has a column for staying: a move gives their slots back, so what others take of a held slot is at
most what its holder gives back. Of a group as many starts are taken as visits have chosen it, or more; those who want
their own therapist count for the group of the day as well, which is all that it takes for everybody to have a start
(Hall 1935, from memory).
"""

from collections.abc import Sequence

import numpy as np

from caseload.booking.rehousing.places import NOBODY, Diary
from caseload.booking.solver import Columns, Ints


class Model:
    """A diary as arrays; `most` is more than visits there are."""

    def __init__(self, diary: Diary) -> None:
        self.aims = np.concatenate([diary.days.aims, diary.starts.aims], axis=1)
        groups = np.zeros(1 + diary.starts.own.max(initial=-1))
        self.upper = np.concatenate([np.ones(len(diary.visits)), diary.room, groups])
        self.columns = _columns(diary)
        self.most = len(diary.visits) + 1

    def weighed(self, aims: Sequence[int]) -> Ints:
        """As one: a step of the first outweighs, twice over, the most that visits can move."""
        one = np.zeros(self.aims.shape[1], np.int64)
        for aim in aims:
            one = one * 2 * self.most + self.aims[aim]
        return one


def _columns(diary: Diary) -> Columns:
    days, starts = diary.days, diary.starts
    slots = len(diary.visits)
    groups = slots + len(diary.room)
    held, length = (
        np.array(each, np.int64)[days.visit]
        for each in ([each.held for each in diary.visits], [each.length for each in diary.visits])
    )
    day, start = np.arange(len(days.visit)), len(days.visit) + np.arange(len(starts.first))
    own = days.own != NOBODY
    parts = [(day, days.visit, 1), (day, groups + days.day, 1), (day[own], groups + days.own[own], 1)]
    parts += [(start, groups + starts.day, -1), (start, groups + starts.own, -1)]
    for turn in range(int(starts.length.max(initial=0))):
        gives, takes = (held != NOBODY) & (turn < length), turn < starts.length
        parts.append((day[gives], slots + held[gives] + turn, -1))
        parts.append((start[takes], slots + starts.first[takes] + turn, 1))
    return _sorted(len(day) + len(start), parts)


def _sorted(count: int, parts: list[tuple[Ints, Ints, int]]) -> Columns:
    column = np.concatenate([each for each, _, _ in parts])
    row = np.concatenate([each for _, each, _ in parts])
    value = np.concatenate([np.full(len(each), float(value)) for each, _, value in parts])
    order = np.argsort(column, kind="stable")
    starts = np.concatenate([[0], np.cumsum(np.bincount(column, minlength=count))])
    return Columns(starts, row[order], value[order])
