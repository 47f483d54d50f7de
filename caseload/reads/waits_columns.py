"""Waits from the database as columns of numbers, in one query whatever their number.

A row of Python values for each wait is what costs: a hundred thousand take half a second. So the database writes each
column as one text, and numpy reads it; all columns of a query come in the same order of rows.
"""

from collections.abc import Iterator, Sequence
from datetime import date
from json import loads
from typing import Any, Final, NamedTuple

import numpy as np
from django.db.models import Aggregate, Case, DateField, F, IntegerField, QuerySet, TextField, Value, When
from django.db.models.expressions import Combinable
from django.db.models.functions import Coalesce

from caseload.parsing import Priority
from caseload.timetable.terms import Suture
from caseload.waits.audit import Window
from caseload.waits.rows import NO_TARGET, OPEN, WAITING, Columns, Days, Period
from caseload.waits.terms import COMPETING, End

WORDS: Final = (End.WAITING.value, End.SEEN.value, *sorted(COMPETING))
SUTURES: Final = ("", *(word.value for word in Suture))
PRIORITIES: Final = ("", *(word.value for word in Priority))
NEVER: Final = date.max
"""Stands for a stop that has not come, while the columns are text."""
NONE: Final = date.min
_TEXT_OF_DAY: Final = np.dtype([("day", "S10"), ("between", "S1")])
_DAY_ZERO: Final = date(1970, 1, 1).toordinal()


class Listed(Aggregate):
    """All values as one text, with a space between; there may be none that is NULL."""

    output_field = TextField()

    def as_sqlite(self, compiler: Any, connection: Any, **context: Any) -> Any:
        return super().as_sql(compiler, connection, template="GROUP_CONCAT(%(expressions)s, ' ')", **context)

    def as_postgresql(self, compiler: Any, connection: Any, **context: Any) -> Any:
        return super().as_sql(compiler, connection, template="STRING_AGG((%(expressions)s)::text, ' ')", **context)


class ListedWords(Aggregate):
    """All texts as one JSON list."""

    output_field = TextField()

    def as_sqlite(self, compiler: Any, connection: Any, **context: Any) -> Any:
        return super().as_sql(compiler, connection, template="JSON_GROUP_ARRAY(%(expressions)s)", **context)

    def as_postgresql(self, compiler: Any, connection: Any, **context: Any) -> Any:
        return super().as_sql(compiler, connection, template="JSON_AGG(%(expressions)s)::text", **context)


class Read(NamedTuple):
    """Waits as columns, and for each of them by what it is grouped: keys of rows (0 for none), places in the words, and
    places in `surgeons`."""

    columns: Columns
    site: Days
    therapist: Days
    surgeon: Days
    suture: Days
    priority: Days
    surgeons: tuple[str, ...]


def read(found: QuerySet[Any]) -> Read:
    """The waits of `waits_clocks.of_clock`."""
    texts = found.aggregate(
        a=Listed("began"), b=Listed("came"), c=Listed(_day("stop", NEVER)), d=Listed(_day("due", NONE)),
        e=Listed(Coalesce("site_id", 0)), f=Listed(Coalesce("therapist_id", 0)), g=ListedWords("surgeon"),
        h=Listed(_together(("how", WORDS), ("suture", SUTURES), ("priority", PRIORITIES))),
    )  # fmt: skip
    began, came, stopped, due = (_days(texts[name]) for name in "abcd")
    site, therapist, words_of = (_numbers(texts[name]) for name in "efh")
    how, suture, priority = _apart(words_of, WORDS, SUTURES, PRIORITIES)
    surgeon, surgeons = _coded(loads(texts["g"] or "[]"))
    ended, words = _words_there(how)
    columns = Columns(
        began, came, np.where(stopped == NEVER.toordinal(), OPEN, stopped),
        np.where(due == NONE.toordinal(), NO_TARGET, due), ended, np.ones(len(began), np.int64), words,
    )  # fmt: skip
    return Read(columns, site, therapist, surgeon, suture, priority, surgeons)


def split(waits: Columns, of: Days) -> Iterator[tuple[int, Columns]]:
    """Waits by the key that each has in `of`, one key after the other."""
    order = np.argsort(of, kind="stable")
    keys, starts = np.unique(of[order], return_index=True)
    ordered = _taken(waits, order)
    for key, start, size in zip(keys.tolist(), starts, np.diff(starts, append=len(of)), strict=True):
        yield key, _taken(ordered, slice(start, start + size))


def _taken(of: Columns, which: Any) -> Columns:
    return Columns(
        of.started[which], of.came[which], of.stopped[which], of.due[which], of.ended[which], of.number[which], of.words
    )


def windows(found: QuerySet[Any], period: Period) -> list[Window]:
    """Stitches against their window, of waits whose target day lies in the period; alike ones together.

    What stopped after the period is still open. Of what stopped by then only the distances between its days count: it
    is moved so that stop or target, whichever is later, is the last day, and a year of waits is some hundred windows.
    """
    texts = found.aggregate(
        a=Listed("earliest_on"), b=Listed("target_on"), c=Listed("due_on"), d=Listed(_day("stopped_on", NEVER)),
        e=Listed(_place("ended", WORDS)),
    )  # fmt: skip
    earliest, target, due, stopped = (_days(texts[name]) for name in "abcd")
    over = stopped <= period.last.toordinal()
    later = np.where(over, period.last.toordinal() - np.maximum(target, stopped), 0)
    ended = np.where(over, _numbers(texts["e"]), WAITING)
    days = [earliest + later, target + later, due + later, np.where(over, stopped + later, 0)]
    alike, number = _alike(np.stack([*days, ended]))
    return list(map(_window, *alike.tolist(), number.tolist()))


def _alike(columns: Days) -> tuple[Days, Days]:
    """The different ones of the columns of a table, and how often each is there."""
    ordered = columns[:, np.lexsort(columns)]
    is_new = np.ones(ordered.shape[1], np.bool_)
    is_new[1:] = np.any(ordered[:, 1:] != ordered[:, :-1], axis=0)
    starts = np.flatnonzero(is_new)
    return ordered[:, starts], np.diff(starts, append=ordered.shape[1])


def _window(earliest: int, target: int, due: int, stopped: int, ended: int, number: int) -> Window:
    day = date.fromordinal
    return Window(day(earliest), day(target), day(due), day(stopped) if stopped else None, WORDS[ended], number)


def _day(name: str, otherwise: date) -> Coalesce:
    return Coalesce(F(name), Value(otherwise, DateField()))


def _place(name: str, words: Sequence[str]) -> Case:
    """A word as its place among the words."""
    places = [When(**{name: word, "then": Value(place)}) for place, word in enumerate(words)]
    return Case(*places, default=Value(0), output_field=IntegerField())


def _together(*fields: tuple[str, Sequence[str]]) -> Combinable:
    """Words of several fields as one number; each column that is written costs."""
    number: Combinable = Value(0)
    for name, words in fields:
        number = number * len(words) + _place(name, words)
    return number


def _apart(numbers: Days, *words: Sequence[str]) -> list[Days]:
    """What `_together` put together."""
    parts = []
    for each in reversed(words):
        parts.append(numbers % len(each))
        numbers = numbers // len(each)
    return parts[::-1]


def _days(text: str | None) -> Days:
    """Days written `2026-10-31 2026-11-01` as ordinals."""
    written = np.frombuffer(f"{text} ".encode() if text else b"", _TEXT_OF_DAY)["day"]
    return written.astype("datetime64[D]").astype(np.int64) + _DAY_ZERO


def _numbers(text: str | None) -> Days:
    return np.fromstring(text or "", np.int64, sep=" ")


def _coded(names: Sequence[str]) -> tuple[Days, tuple[str, ...]]:
    """Names as places in the list of those there are."""
    there = tuple(sorted(set(names)))
    places = {name: place for place, name in enumerate(there)}
    return np.fromiter(map(places.__getitem__, names), np.int64, len(names)), there


def _words_there(how: Days) -> tuple[Days, tuple[str, ...]]:
    """Places in `WORDS` as places in those that are there; waiting and seen come first, there or not."""
    there = np.union1d(how, [0, 1])
    return np.searchsorted(there, how), tuple(WORDS[place] for place in there.tolist())
