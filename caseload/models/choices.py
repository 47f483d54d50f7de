"""The words of `timetable.terms` as choices and constraints of tables."""

from enum import StrEnum

from django.db import models
from django.db.models import Q


def choices(words: type[StrEnum]) -> list[tuple[str, str]]:
    return [(word.value, word.value) for word in words]


def one_of(field: str, words: type[StrEnum], *, empty: bool = False) -> models.CheckConstraint:
    """The database refuses any other word in `field`; `empty` also allows the empty text."""
    allowed = [word.value for word in words] + ([""] if empty else [])
    return models.CheckConstraint(condition=Q(**{f"{field}__in": allowed}), name=f"%(class)s_{field}_is_known")
