"""Reading JSON objects strictly: what is unknown, absent or of the wrong kind is refused by name.

Rule files and episode lines share it. Every Refusal (code `unreadable`) begins with the place of the field, such as
`findings[0].on: ...`, and ends with what would be right.
"""

from collections.abc import Callable
from datetime import date
from enum import StrEnum
from typing import Final, TypeVar

from caseload.errors import Refusal

FIRST_YEAR: Final = 1900
LAST_YEAR: Final = 2100
Word = TypeVar("Word", bound=StrEnum)
Item = TypeVar("Item")
Default = TypeVar("Default")


class Fields:
    """One JSON object at a place in its file. `known` are the names it may have."""

    __slots__ = ("_body", "where")

    def __init__(self, body: object, known: frozenset[str], where: str = "") -> None:
        self.where = where
        if not isinstance(body, dict):
            raise refusal(where, f"{shown(body)} is not an object", 'write it in braces, as {"name": value}')
        self._body: dict[str, object] = body
        if not body.keys() <= known:
            name = min(body.keys() - known)
            raise self.refusal(name, "there is no such field", f"the fields are {', '.join(sorted(known))}")

    def __contains__(self, name: str) -> bool:
        """Whether the field is there and not null."""
        return self._body.get(name) is not None

    def has(self, name: str) -> bool:
        """Whether the field is there at all, be it null."""
        return name in self._body

    def refusal(self, name: str, wrong: str, right: str) -> Refusal:
        return refusal(self.place(name), wrong, right)

    def place(self, name: str) -> str:
        return f"{self.where}.{name}" if self.where else name

    def day(self, name: str) -> date:
        """A day written YYYY-MM-DD."""
        return self._needed(name, self.day_or(name, None), "give a day such as 2026-04-01")

    def day_or(self, name: str, default: Default) -> date | Default:
        value = self._body.get(name)
        if value is None:
            return default
        day = read_day(value)
        if day is None:
            raise self.refusal(
                name,
                f"{shown(value)} is not a day from {FIRST_YEAR} to {LAST_YEAR}",
                "give one that exists, such as 2026-04-01",
            )
        return day

    def not_before(self, name: str, first: date, what: str) -> None:
        """Refuses a day that comes before another."""
        day = self.day_or(name, None)
        if day and day < first:
            raise self.refusal(name, f"{day} is before {what} of {first}", "correct one of them")

    def whole(self, name: str, lowest: int, highest: int) -> int:
        found = self.whole_or(name, None, lowest, highest)
        return self._needed(name, found, f"give a whole number from {lowest} to {highest}")

    def whole_or(self, name: str, default: Default, lowest: int, highest: int) -> int | Default:
        value = self._body.get(name)
        if value is None:
            return default
        if type(value) is not int or not lowest <= value <= highest:
            raise self.refusal(name, f"{shown(value)} is not right", f"give a whole number from {lowest} to {highest}")
        return value

    def flag(self, name: str, default: bool = False) -> bool:
        value = self._body.get(name)
        if value is None:
            return default
        if not isinstance(value, bool):
            raise self.refusal(name, f"{shown(value)} is neither true nor false", "give true or false")
        return value

    def text(self, name: str) -> str:
        return self._needed(name, self.text_or(name, None), "give a text in quotation marks")

    def text_or(self, name: str, default: Default) -> str | Default:
        value = self._body.get(name)
        if value is None:
            return default
        if not isinstance(value, str):
            raise self.refusal(name, f"{shown(value)} is not a text", "give a text in quotation marks")
        return value

    def word(self, name: str, words: type[Word]) -> Word:
        """One of the words of the trade."""
        return self._needed(name, self.word_or(name, words, None), f"give one of {', '.join(words)}")

    def word_or(self, name: str, words: type[Word], default: Default) -> Word | Default:
        value = self._body.get(name)
        return default if value is None else self._word(name, words, value)

    def words(self, name: str, words: type[Word]) -> tuple[Word, ...]:
        """A list of words of the trade; empty if absent."""
        return tuple(self._word(f"{name}[{place}]", words, value) for place, value in enumerate(self._list(name)))

    def each(self, name: str, read: Callable[[object, str], Item]) -> tuple[Item, ...]:
        """Every item of a list, read with its place; empty if absent."""
        return tuple(read(item, f"{self.place(name)}[{place}]") for place, item in enumerate(self._list(name)))

    def part(self, name: str, read: Callable[[object, str], Item], default: Item) -> Item:
        """A field that `read` makes something of, given its place; the default if it is absent."""
        return read(self._body[name], self.place(name)) if name in self else default

    def _list(self, name: str) -> list[object]:
        value = self._body.get(name)
        if value is None:
            return []
        if not isinstance(value, list):
            raise self.refusal(name, f"{shown(value)} is not a list", "write it in square brackets")
        return value

    def _word(self, name: str, words: type[Word], value: object) -> Word:
        known: dict[object, Word] = words._value2member_map_  # type: ignore[assignment]
        found = known.get(value) if isinstance(value, str) else None
        if found is None:
            raise self.refusal(name, f"{shown(value)} is not known here", f"give one of {', '.join(words)}")
        return found

    def _needed(self, name: str, value: Item | None, right: str) -> Item:
        if value is None:
            raise self.refusal(name, "it is missing", right)
        return value


def read_day(value: object) -> date | None:
    """A day written YYYY-MM-DD in a year that can be meant; None for everything else."""
    if not isinstance(value, str) or len(value) != 10 or value[4] != "-" or value[7] != "-":
        return None
    try:
        day = date.fromisoformat(value)
    except ValueError:
        return None
    return day if FIRST_YEAR <= day.year <= LAST_YEAR else None


def refusal(place: str, wrong: str, right: str) -> Refusal:
    at = f"{place}: " if place else ""
    return Refusal("unreadable", f"{at}{wrong}; {right}.", field=place)


def shown(value: object) -> str:
    """A value as a message quotes it, shortened."""
    text = {None: "null", True: "true", False: "false"}.get(value) if value is None or isinstance(value, bool) else None
    text = text or (f"“{value}”" if isinstance(value, str) else str(value))
    return text if len(text) <= 40 else text[:39] + "…"
