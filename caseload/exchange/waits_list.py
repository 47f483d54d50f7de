"""Any list of waits as columns: a text file with one wait a line, its columns named on the first.

Either `days`, or `start_on` and `stop_on` (empty while waiting); `ended`: "seen", "waiting" or any other word, which is
then a competing end; where there is one, `entered`: the days already waited when it came into sight. Where there are
`days`, they count and the two dates are not read. All other columns are let be, but for one to group by.

A line that cannot be read is refused by itself: "field: what is wrong; what would be right".
"""

import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from operator import itemgetter
from typing import Final, NamedTuple

import numpy as np

from caseload.errors import Refusal
from caseload.exchange.delimited import read_lines
from caseload.timetable.fields import FIRST_YEAR, LAST_YEAR, read_day, refusal, shown
from caseload.waits.rows import Waits, coded
from caseload.waits.terms import End

MOST_DAYS: Final = 100_000
"""More than anybody lives: a longer wait is a slip of the pen, and everything is counted by day."""
MOST_WORDS: Final = 50
MOST_GROUPS: Final = 200
"""More than this of different words or groups is a column that was meant otherwise."""

_WHOLE: Final = re.compile(r"([0-9]{1,6})(?:\.0+)?")
_OWN: Final = {word.value: word for word in (End.WAITING, End.SEEN)}


class One(NamedTuple):
    """A wait as it is counted: days of it, how it stands, days waited before it came into sight, and its group."""

    days: int
    ended: str
    entered: int
    group: str


class WaitsList(NamedTuple):
    """`groups` by their values in order; empty where none were asked for. `refused`: number of the line, and why."""

    waits: Waits
    groups: dict[str, Waits]
    refused: tuple[tuple[int, str], ...]


def read_waits(data: bytes, *, group: str = "", today: date | None = None) -> WaitsList:
    """A list to be grouped by the column `group`; waits that are open are as long as they are on `today`.

    Raises Refusal `unreadable` where the first line does not name the columns, and those of `delimited.read_lines`.
    """
    lines = _filled(data)
    reader = _reader(*_first(lines), group, today)
    counted: defaultdict[str, Counter[One]] = defaultdict(Counter)
    refused = []
    for number, cells in lines:
        found = cells if isinstance(cells, str) else reader.read(cells)
        if isinstance(found, str):
            refused.append((number, found))
        else:
            counted[found.group][found] += 1
    everybody = {one: number for ones in counted.values() for one, number in ones.items()}
    groups = {value: _waits(counted[value]) for value in sorted(counted)} if group else {}
    return WaitsList(_waits(everybody), groups, tuple(refused))


def _filled(data: bytes) -> Iterator[tuple[int, list[str] | str]]:
    """Lines that hold anything; of one that cannot be taken apart, what is said of it."""
    for number, cells in read_lines(data):
        if isinstance(cells, str):
            yield number, refusal("line", cells, "mend it").message
        elif any(cells) and not "".join(cells).isspace():
            yield number, cells


def _first(lines: Iterator[tuple[int, list[str] | str]]) -> tuple[int, list[str] | str]:
    try:
        return next(lines, (1, []))
    except Refusal as refused:
        raise Refusal(refused.code, "line 1: line: this is not text; save the list as CSV in UTF-8.") from None


def _waits(counted: Mapping[One, int]) -> Waits:
    places, words = coded([one.ended for one in counted])
    days = np.array([one.days for one in counted], np.int64)
    entered = np.array([one.entered for one in counted], np.int64)
    return Waits(days, places, entered, np.array(list(counted.values()), np.int64), words)


def _reader(number: int, header: list[str] | str, group: str, today: date | None) -> "Reader":
    """From the line that names the columns. Raises Refusal, which begins with the number of that line."""
    try:
        if isinstance(header, str):
            raise Refusal("unreadable", header)
        return Reader(*_named([" ".join(cell.split()) for cell in header], group), group, today)
    except Refusal as refused:
        raise Refusal(refused.code, f"line {number}: {refused.message}") from None


def _named(header: list[str], group: str) -> tuple[dict[str, int], int]:
    """The place of each column that is read, and how many there are. Capitals do not matter but in `group`."""
    plain = [name.casefold() for name in header]
    for name in ("days", "start_on", "stop_on", "ended", "entered"):
        if plain.count(name) > 1:
            raise refusal(name, "there are two such columns", "keep one of them")
    wanted = ["days", "ended"] if "days" in plain else ["start_on", "stop_on", "ended"]
    for name in wanted:
        if name not in plain:
            raise _missing(name, plain)
    places = {name: plain.index(name) for name in [*wanted, "entered"] if name in plain}
    if group:
        places["group"] = _grouping(header, plain, group)
    return places, len(header)


def _missing(name: str, plain: list[str]) -> Refusal:
    if name == "start_on" and "stop_on" not in plain:
        right = "name the columns on the first line: days (or start_on and stop_on), and ended"
        return refusal("days", "there is no such column", right)
    return refusal(name, "there is no such column", "name it on the first line")


def _grouping(header: list[str], plain: list[str], group: str) -> int:
    for names, wanted in ((header, group), (plain, group.casefold())):
        if wanted in names:
            return names.index(wanted)
    raise refusal(group, "there is no such column", f"group by one of {', '.join(header)}")


@dataclass(slots=True)
class Reader:
    """`places`: column to its place among `width` of them; "group" is the one to group by, called `group`."""

    places: Mapping[str, int]
    width: int
    group: str
    today: date | None
    known: dict[tuple[str, ...], One | str] = field(default_factory=dict)
    words: set[str] = field(default_factory=set)
    values: set[str] = field(default_factory=set)
    pick: Callable[[list[str]], tuple[str, ...]] = field(init=False)

    def __post_init__(self) -> None:
        self.pick = itemgetter(*self.places.values())

    def read(self, cells: list[str]) -> One | str:
        """The wait on a line, or why it is refused. Lines that are alike are read once."""
        if len(cells) != self.width:
            if any(cell.strip() for cell in cells[self.width :]):
                wrong = f"it has {len(cells)} cells, and the first line names {self.width} columns"
                return refusal("line", wrong, "put a cell that holds the delimiter in quotation marks").message
            cells = [*cells[: self.width], *[""] * (self.width - len(cells))]
        key = self.pick(cells)
        found = self.known.get(key)
        if found is None:
            found = self.known[key] = self._read(
                {name: text.strip() for name, text in zip(self.places, key, strict=True)}
            )
        return found

    def _read(self, cells: Mapping[str, str]) -> One | str:
        try:
            ended = self._ended(cells["ended"])
            days = _whole("days", cells["days"]) if "days" in cells else self._between(cells, ended)
            entered = _whole("entered", cells.get("entered") or "0")
            if entered > days:
                wrong = f"{entered} is more than the {days} days of the whole wait"
                raise refusal("entered", wrong, "give the days waited before it came into sight")
            return One(days, ended, entered, self._group(cells.get("group", "")))
        except Refusal as refused:
            return refused.message

    def _ended(self, text: str) -> str:
        if not text:
            raise refusal("ended", "it is empty", "give seen, waiting, or another word for how the wait ended")
        word = _OWN.get(text.casefold(), text)
        self.words.add(word)
        if len(self.words - _OWN.keys()) > MOST_WORDS:
            self.words.remove(word)
            wrong = f"{shown(text)} is one more than the {MOST_WORDS} different words that there may be"
            raise refusal("ended", wrong, "give few words, such as seen, waiting, declined, died")
        return word

    def _group(self, text: str) -> str:
        """Only a line that is not refused makes a group."""
        if not self.group:
            return ""
        if len(self.values | {text}) > MOST_GROUPS:
            wrong = f"{shown(text)} is one more than the {MOST_GROUPS} groups that there may be"
            raise refusal(self.group, wrong, "group by a column with few different values")
        self.values.add(text)
        return text

    def _between(self, cells: Mapping[str, str], ended: str) -> int:
        start_on = _day("start_on", cells["start_on"])
        stop_on = self._stop(cells["stop_on"], ended)
        if stop_on >= start_on:
            return (stop_on - start_on).days
        if cells["stop_on"]:
            raise refusal("stop_on", f"{stop_on} is before the start on {start_on}", "correct one of them")
        raise refusal("start_on", f"{start_on} is after today, {stop_on}", "correct it, or give a later --today")

    def _stop(self, text: str, ended: str) -> date:
        """The day up to which it is counted."""
        if ended == End.WAITING:
            if text:
                raise refusal(
                    "stop_on", f"it is {shown(text)}, and ended says waiting", "leave it empty, or say how it ended"
                )
            if self.today is None:
                raise refusal(
                    "stop_on", "it is empty, and no today is given", "add --today with a day such as 2026-04-01"
                )
            return self.today
        if not text:
            raise refusal("stop_on", f"it is empty, and ended says {shown(ended)}", "give the day, or say waiting")
        stop_on = _day("stop_on", text)
        if self.today is not None and stop_on > self.today:
            raise refusal("stop_on", f"{stop_on} is after today, {self.today}", "correct it, or give a later --today")
        return stop_on


def _whole(name: str, text: str) -> int:
    found = _WHOLE.fullmatch(text)
    if not found or int(found[1]) > MOST_DAYS:
        wrong = f"{shown(text)} is not a whole number of days from 0 to {MOST_DAYS}" if text else "it is empty"
        raise refusal(name, wrong, "give one such as 12")
    return int(found[1])


def _day(name: str, text: str) -> date:
    day = read_day(text)
    if day is None:
        wrong = f"{shown(text)} is not a day from {FIRST_YEAR} to {LAST_YEAR}" if text else "it is empty"
        raise refusal(name, wrong, "give one that exists, such as 2026-04-01")
    return day
