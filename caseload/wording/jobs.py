"""Long work in words."""

from collections.abc import Mapping
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as lazy

TITLES: Final[Mapping[str, str | Promise]] = {
    "rederive": lazy("Every date derived anew"),
    "plan-sheet": lazy("Plan sheet as a file"),
    "intake": lazy("Theatre list taken in"),
    "export": lazy("List as a file"),
}


def say_title(kind: str) -> str:
    return str(TITLES.get(kind, kind))
