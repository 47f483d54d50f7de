"""Long work in words."""

from collections.abc import Mapping
from typing import Final

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy as lazy

TITLES: Final[Mapping[str, str | Promise]] = {
    "rederive": lazy("Working out every date again"),
    "plan-sheet": lazy("Plan sheet as a file"),
    "intake": lazy("Taking a theatre list in"),
    "export": lazy("List as a file"),
    "fill": lazy("Filling the diary"),
    "rules-effect": lazy("Counting what a change of rules would do"),
    "rules-move": lazy("Moving open episodes to other rules"),
    "trail-file": lazy("Trail as a file"),
    "trail-proof": lazy("Checking the seals of the trail"),
    "patient-file": lazy("Everything held on one patient"),
    "retention": lazy("Removing records whose time is over"),
}


IN_ROWS: Final = frozenset({"intake", "export", "trail-file"})
"""Kinds of work that are counted in rows of a list."""


def say_progress(kind: str, done: int, of: int) -> str:
    said = _("Row %(done)d of %(of)d.") if kind in IN_ROWS else _("Step %(done)d of %(of)d.")
    return said % {"done": done, "of": of}


def say_title(kind: str) -> str:
    return str(TITLES.get(kind, kind))
