"""Changes of rules in templates: the numbers that differ, and how far a target moves."""

from typing import NamedTuple

from django import template

from caseload.timetable.versions import Line
from caseload.wording.rules import say_count, say_days, say_difference, say_of_rule

register = template.Library()
register.filter("days_moved", say_days)


class Cell(NamedTuple):
    """A number that differs: what it counts, what it was and is, and by how much."""

    name: str
    was: str
    now: str
    difference: str


@register.filter
def cells(line: Line) -> list[Cell]:
    return [_cell(line, name) for name in line.changed]


def _cell(line: Line, name: str) -> Cell:
    was = None if line.before is None else line.before.get(name)
    now = None if line.after is None else line.after.get(name)
    sides = (line.before is not None, line.after is not None)
    return Cell(
        say_count(name), say_of_rule(was, sides[0]), say_of_rule(now, sides[1]), say_difference(was, now, *sides)
    )
