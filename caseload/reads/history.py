"""The history of a patient or an episode in words, from the entries of the trail."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import NamedTuple

from caseload.access import Act
from caseload.models import RuleSet, TrailEntry
from caseload.reads.names import names
from caseload.wording.record import say_act, say_change, say_reason

Named = Mapping[str, Mapping[object, str]]


class Told(NamedTuple):
    """Who did what when, and each thing that it moved."""

    at: datetime
    by: str
    what: str
    moved: tuple[str, ...]


def tell(entries: Iterable[TrailEntry]) -> list[Told]:
    """The entries in their order (they bring `by`); at most two more queries, for names that were changed."""
    rows = list(entries)
    named = _named({field for row in rows for field in row.changed})
    return [
        Told(row.at, row.by.name if row.by else "the planner", say_act(row.act), _moved(row, named)) for row in rows
    ]


def _moved(row: TrailEntry, named: Named) -> tuple[str, ...]:
    said = (
        say_change(field, *(named.get(field, {}).get(value, value) for value in values))
        if field in named
        else say_change(field, *values)
        for field, values in row.changed.items()
    )
    why = (say_reason(row.why),) if row.act == Act.PATIENT_OPEN else ()
    return (*why, *filter(None, said))


def _named(fields: set[str]) -> Named:
    """The names behind the keys that the trail holds, where it holds any."""
    found: dict[str, Mapping[object, str]] = {}
    if fields & {"site", "therapist"}:
        known = names()
        found["site"] = {row.id: row.name for row in known.sites}
        found["therapist"] = {row.id: row.name for row in known.therapists}
    if "rules" in fields:
        found["rules"] = {row.pk: str(row) for row in RuleSet.objects.only("name", "version")}
    return found
