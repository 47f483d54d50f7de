"""States and dates of one language, worked out once: for lists, where a look-up for each word would be what costs."""

import datetime as time
from enum import StrEnum
from functools import lru_cache

from django.utils.translation import get_language, gettext

from caseload.wording.dates import say_date, say_days
from caseload.wording.labels import LABELS

MOST_DATES = 20_000


class Speech:
    """`label` and `date` say what `wording.label` and `wording.say_date` say, in the language it was made for."""

    def __init__(self) -> None:
        self._labels = {words: {value: str(said) for value, said in own.items()} for words, own in LABELS.items()}
        self._dates: dict[time.date, str] = {}
        self._days: dict[int, str] = {}
        self._texts: dict[str, str] = {}

    def label(self, state: StrEnum) -> str:
        return self._labels[type(state)][state]

    def date(self, on: time.date) -> str:
        said = self._dates.get(on)
        if said is None:
            if len(self._dates) >= MOST_DATES:
                self._dates.clear()
            said = self._dates[on] = say_date(on)
        return said

    def days(self, count: int) -> str:
        """`1 day`, `14 days`."""
        said = self._days.get(count)
        if said is None:
            said = self._days[count] = say_days(count)
        return said

    def text(self, message: str) -> str:
        """A sentence of the source in the language spoken. Call it `_`, so that it is found for translation."""
        said = self._texts.get(message)
        if said is None:
            said = self._texts[message] = gettext(message)
        return said

    def day(self, on: time.date, number: int) -> str:
        """`Thu 2 Apr 2026 (day 13)`."""
        return f"{self.date(on)} (day\N{NO-BREAK SPACE}{number})"


def speech() -> Speech:
    """The words of the language that is spoken now. Ask once for a page, not once for a row."""
    return _speech(get_language())


@lru_cache(maxsize=8)
def _speech(language: str | None) -> Speech:
    return Speech()
