"""The same operation twice in one list, and persons who may be one and the same."""

from collections import defaultdict
from collections.abc import Hashable, Iterator, Sequence
from dataclasses import dataclass, field, fields, replace

from caseload.exchange.likeness import PersonKey, Verdict, likeness
from caseload.exchange.operated import OperatedPatient, Problem, Severity, TheatreRow

_LOOKED_AT = 100
"""Persons compared for each thing shared: a default birth date must not make a long list slow."""


@dataclass(slots=True)
class _Seen:
    """What earlier rows have shown; places are places in the list of rows."""

    keys: dict[PersonKey, int] = field(default_factory=dict)
    sharing: defaultdict[Hashable, list[PersonKey]] = field(default_factory=lambda: defaultdict(list))
    person: dict[int, int] = field(default_factory=dict)
    operations: dict[Hashable, int] = field(default_factory=dict)
    problems: defaultdict[int, list[Problem]] = field(default_factory=lambda: defaultdict(list))


def mark_repeats(rows: Sequence[TheatreRow]) -> tuple[TheatreRow, ...]:
    """A row that says the same as an earlier one is refused; rows that only come near each other are both doubtful."""
    seen = _Seen()
    for place, row in enumerate(rows):
        if row.value is not None:
            _compare_person(seen, rows, place, row.value.key)
            _compare_operations(seen, rows, place, row.value)
    return tuple(_with(row, seen.problems.get(place, [])) for place, row in enumerate(rows))


def _with(row: TheatreRow, problems: list[Problem]) -> TheatreRow:
    if not problems:
        return row
    refused = any(problem.severity is Severity.REFUSED for problem in problems)
    return replace(row, value=None if refused else row.value, problems=(*row.problems, *problems))


def _compare_person(seen: _Seen, rows: Sequence[TheatreRow], place: int, key: PersonKey) -> None:
    if key in seen.keys:
        seen.person[place] = seen.person[seen.keys[key]]
        return
    seen.person[place] = place
    for other in _candidates(seen, key):
        earlier = seen.keys[other]
        alike = likeness(key, other)
        if alike.verdict is Verdict.SAME:
            seen.person[place] = seen.person[earlier]
        elif alike.verdict is Verdict.DOUBTFUL:
            _doubt(seen, place, rows[earlier].number, alike.reason)
            _doubt(seen, earlier, rows[place].number, likeness(other, key).reason)
    seen.keys[key] = place
    for shared in _shared(key):
        seen.sharing[shared].append(key)


def _shared(key: PersonKey) -> Iterator[Hashable]:
    yield from key.numbers
    yield key.name
    if key.born_on:
        yield key.born_on


def _candidates(seen: _Seen, key: PersonKey) -> dict[PersonKey, None]:
    found = (other for shared in _shared(key) for other in seen.sharing.get(shared, ())[-_LOOKED_AT:])
    return dict.fromkeys(found)


def _doubt(seen: _Seen, place: int, number: int, reason: str) -> None:
    remedy = "if this is one person, make both rows agree; if not, confirm that these are two"
    message = f"Row {number} has {reason}: {remedy}."
    seen.problems[place].append(Problem("", "person-twice", message, Severity.DOUBTFUL, number))


def _compare_operations(seen: _Seen, rows: Sequence[TheatreRow], place: int, value: OperatedPatient) -> None:
    for digit in value.digits:
        operation = (seen.person[place], value.side, digit, value.surgery_on)
        earlier = seen.operations.setdefault(operation, place)
        if earlier != place:
            seen.problems[place].append(_repeat(rows[earlier], value))
            return


def _repeat(earlier: TheatreRow, value: OperatedPatient) -> Problem:
    differing = [of.name for of in fields(value) if getattr(earlier.value, of.name) != getattr(value, of.name)]
    if not differing:
        message = f"Row {earlier.number} says the same: this row was left out."
        return Problem("", "row-repeated", message, Severity.REFUSED, earlier.number)
    what = ", ".join(name.replace("_", " ") for name in differing)
    message = f"Row {earlier.number} gives the same operation with another {what}: keep the row that is right."
    return Problem("", "operation-repeated", message, Severity.DOUBTFUL, earlier.number)
