"""Languages made for tests: one that puts every message in brackets, so that what is left outside is untranslated, and
one in which every message is a third longer, as it often is in another language."""

import re
from collections.abc import Callable
from typing import Any

from django.utils.translation import trans_real

PLACE = re.compile(r"%\(\w+\)[sd]")


class Catalogue:
    """What Django asks of one: each message as `say` turns it."""

    def __init__(self, language: str, say: Callable[[str], str]) -> None:
        self._language, self._say = language, say

    def language(self) -> str:
        return self._language

    def to_language(self) -> str:
        return self._language

    def gettext(self, message: str) -> str:
        return self._say(message.rpartition("\x04")[2])

    def ngettext(self, one: str, many: str, count: int) -> str:
        return self.gettext(one if count == 1 else many)


def bracketed(message: str) -> str:
    return f"⟦{message}⟧"


def stretched(message: str) -> str:
    """A third longer, in words of six letters; what is put in is stretched where it comes from."""
    wanted = len(PLACE.sub("", message)) // 3
    return message + (" lengen" * (wanted // 7 + 1))[:wanted]


LANGUAGES = {"xb": bracketed, "xs": stretched}


def install(monkeypatch: Any) -> None:
    for language, say in LANGUAGES.items():
        monkeypatch.setitem(trans_real._translations, language, Catalogue(language, say))


def outside(text: str) -> str:
    """What stands in no bracket."""
    depth, left = 0, []
    for letter in text:
        depth += (letter == "⟦") - (letter == "⟧")
        left.append(letter if depth == 0 and letter != "⟧" else " ")
    return "".join(left)
