"""A table as plain columns: headers in words, what a row refers to by the code or name it goes by, states as labels."""

import json
from calendar import day_name
from collections.abc import Callable, Iterator, Set
from datetime import datetime
from typing import Any, Final, NamedTuple

from django.db.models import Field, JSONField, Model
from django.utils import timezone
from django.utils.text import capfirst

from caseload.booking.slots import clock
from caseload.models import (
    Appointment,
    Episode,
    FillPlan,
    Finding,
    FollowUp,
    IntakeBatch,
    Job,
    LetterBatch,
    Measurement,
    Patient,
    Referral,
    Region,
    RuleSet,
    Session,
    SetReview,
    Site,
    Staff,
    Visit,
    WeeklySession,
)
from caseload.wording.record import FIELDS, say_act

GOES_BY: Final[dict[type[Model], dict[str, str]]] = {
    Patient: {"code": "{}", "family": "Family name", "given": "Given name"},
    Episode: {"code": "{}"}, Referral: {"code": "{}"}, Appointment: {"code": "{}"}, Visit: {"code": "{}"},
    Session: {"code": "{}"}, WeeklySession: {"code": "{}"}, LetterBatch: {"code": "{}"},
    FollowUp: {"episode__code": "Episode", "key": "{}"}, Staff: {"name": "{}"}, Site: {"name": "{}"},
    Region: {"title": "{}"}, RuleSet: {"name": "{}", "version": "{}, version"},
    Job: {"code": "{}"}, FillPlan: {"code": "{}"}, IntakeBatch: {"code": "{}"},
    Finding: {"pk": "{}"}, Measurement: {"pk": "{}"}, SetReview: {"pk": "{}"},
}  # fmt: skip
"""What a row of each table is named by in the others, and the header of each part."""
UNSAID: Final = frozenset({
    "search_key", "phone_key", "password", "last_login", "version", "sequence", "claimed_until", "tries", "demo",
    "marks",
})  # fmt: skip
"""What only the planner itself needs."""
OWN_WORDS: Final = {
    "code": "Code",
    "changed": "Changed",
    "source": "Source",
    "body": "What",
    "on": "Day",
    "number": "Line",
    "seal.number": "Block",
    "row": "Its number",
}
OWN_SAYING: Final[dict[str, Callable[[Any], Any]]] = {
    "start_minute": lambda minute: None if minute is None else clock(minute),
    "end_minute": clock,
    "weekday": lambda number: day_name[number],
    "weekdays": lambda digits: ", ".join(day_name[int(digit)] for digit in digits),
    "act": say_act,
}


class Column(NamedTuple):
    """`path` is where the value is, from the row; `say` makes it readable."""

    header: str
    path: str
    say: Callable[[Any], Any]


def columns_of(model: type[Model], without: Set[str] = frozenset()) -> list[Column]:
    """Every column of a table that says something to a person, but those named; its number where it has no code."""
    fields = [field for field in model._meta.concrete_fields if field.name not in UNSAID | without]
    named = any(field.name == "code" for field in fields)
    return [column for field in fields if not (field.primary_key and named) for column in _columns(field)]


def _columns(field: Field) -> Iterator[Column]:
    header = _header(field)
    if field.related_model is None:
        yield Column(header, field.name, _say(field))
        return
    for path, said in GOES_BY[field.related_model].items():
        if "{}" in said or field.related_model is not field.model:
            yield Column(said.format(header), f"{field.name}__{path}", plain)


def _header(field: Field) -> str:
    if field.primary_key:
        return "Number"
    for name in (field.model._meta.label_lower.removeprefix("caseload.") + f".{field.name}", field.name):
        if name in OWN_WORDS:
            return OWN_WORDS[name]
    return str(FIELDS.get(field.name, capfirst(str(field.verbose_name))))


def _say(field: Field) -> Callable[[Any], Any]:
    if field.name in OWN_SAYING:
        return OWN_SAYING[field.name]
    words = {value: str(word) for value, word in field.flatchoices}
    if words:
        return lambda value: words.get(value, value)
    return as_text if isinstance(field, JSONField) else plain


def plain(value: Any) -> Any:
    """As it is; an instant in local time with what it is ahead of universal time."""
    return timezone.localtime(value) if isinstance(value, datetime) else value


def as_text(value: Any) -> str:
    """A list of words as words; everything else as JSON."""
    if isinstance(value, list) and all(isinstance(each, str) for each in value):
        return ", ".join(value)
    return "" if value in (None, {}) else json.dumps(value, ensure_ascii=False, sort_keys=True)
