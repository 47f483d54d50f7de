"""Filed months in templates: who filed them, figures side by side, and what moved a wait."""

from collections.abc import Mapping

from django import template

from caseload.models import TrailEntry
from caseload.reads.filings import Mover
from caseload.waits.restated import Line
from caseload.wording import filing as words
from caseload.wording import label
from caseload.wording.dates import say_instant
from caseload.wording.record import say_act
from caseload.wording.waits_apart import say_group

register = template.Library()
register.filter("filed", words.say_filed)
register.filter("difference", words.say_by)
register.filter("target_days", words.say_target)
register.filter("moved_since", words.say_count)


@register.filter
def figure(line: Line) -> str:
    return str(words.FIGURES[line.figure])


@register.filter
def site_of(line: Line, names: Mapping[str, str]) -> str:
    return say_group("site", line.site or "", names)


@register.filter
def as_filed(line: Line) -> str:
    return words.say_value(line.figure, line.filed)


@register.filter
def as_known(line: Line) -> str:
    return words.say_value(line.figure, line.now)


@register.filter
def what_moved(mover: Mover, names: Mapping[str, str]) -> list[str]:
    return words.say_moves(mover.moved, names)


@register.filter
def recorded(entry: TrailEntry) -> str:
    """`finding recorded on Mon 9 Nov 2026, 10:12 by a therapist`."""
    return words.say_recorded(say_act(entry.act), say_instant(entry.at), entry.by)


@register.filter
def target_name(name: str) -> str:
    return str(words.TARGETS[name])


@register.filter
def of_clock(mover: Mover) -> str:
    return label(mover.moved.wait.clock)
