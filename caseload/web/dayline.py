"""The day line: one ruler for each episode from surgery to day 90, drawn as SVG by joining escaped strings.

Windows are bars (hollow: ahead; filled: open or late; thin and grey: done), gates are notches on the ruler (filled:
shut; hollow: open), findings are ticks below it, booked days are dots, today is the line across. Shapes alone tell the
states apart, so that a grey print reads the same. `small` is for list rows, `large` for the page of an episode.
"""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from html import escape
from typing import NamedTuple

from django.utils.safestring import SafeString, mark_safe

from caseload.reads.lines import UNTIL, Gate, Line, Span
from caseload.timetable.terms import Lock, Status
from caseload.wording.speech import Speech, speech

BEYOND = UNTIL + 1
SHAPES = {Status.OPEN: "w open", Status.LATE: "w late", Status.DONE: "w done", Status.AHEAD: "w"}
GATES = {Lock.STITCHES_OUT: "stitches out", Lock.WOUND_CLOSED: "wound closed", Lock.TRIMMED: "ends trimmed"}

# The small line counts one unit for a day. Whatever does not move is written once, as text.


class Lane(NamedTuple):
    """A row of bars: the tops of a bar and of a thin one, and the middle of both."""

    top: str
    thin: str
    middle: str


LANES = (Lane("3.9", "4.6", "5"), Lane("1.1", "1.8", "2.2"))  # the one near the ruler first
SMALL = '<svg class="day" viewBox="-1 0 93 12" role="img"><title>'
WEEKS = "".join(f"M{day} 7.5v1" for day in range(14, UNTIL, 14))
RULER = f'</title><path class="axis" d="M0 8H91M0 6.7v2.6M91 6.7v2.6{WEEKS}"/>'


def small(line: Line | None, say: Speech) -> str:
    """The line for a list row, as markup; without a surgery date there is none, and the text says so."""
    if line is None:
        return '<div class="soft">no surgery date</div>'
    parts = [SMALL, escape(" ".join(tell(line, say))), RULER]
    parts += [_bar(span, lane, line.today) for span, lane in _placed(line.spans)]
    parts += [f'<path class="tick" d="M{_inside(tick.day)}.5 9v2.6"/>' for tick in line.ticks]
    parts += _notches(line.gates)
    if line.today >= 0:
        parts.append(f'<path class="now" d="M{_inside(line.today)}.5 0v12"/>')
    parts.append("</svg>")
    return "".join(parts)


def _inside(day: int) -> int:
    return 0 if day < 0 else UNTIL if day > UNTIL else day


def _placed(spans: Iterable[Span]) -> list[tuple[Span, Lane]]:
    """The row of each bar: near the ruler where there is room, else above it."""
    ends = [-1, -1]
    placed = []
    for span in spans:
        row = 0 if span.earliest >= ends[0] or span.earliest < ends[1] else 1
        ends[row] = max(ends[row], span.latest)
        placed.append((span, LANES[row]))
    return placed


def _bar(span: Span, lane: Lane, today: int) -> str:
    start, end = _inside(span.earliest), _inside(span.latest) + 1
    shape = SHAPES[span.status] + " maybe" if span.provisional else SHAPES[span.status]
    at = span.booked if span.done is None else span.done
    dot = "" if at is None else f'<circle class="at" cx="{_inside(at)}.5" cy="{lane.middle}" r="1.2"/>'
    if span.status is Status.LATE:
        over = f'<path class="over" d="M{end} {lane.middle}H{_inside(today)}.5"/>'
        return f'{over}<path class="{shape}" d="M{start} {lane.top}H{end}l1.4 1.1l-1.4 1.1H{start}z"/>{dot}'
    y, height = (lane.thin, ".8") if span.status is Status.DONE else (lane.top, "2.2")
    return f'<rect class="{shape}" x="{start}" y="{y}" width="{end - start}" height="{height}"/>{dot}'


def _notches(gates: Iterable[Gate]) -> list[str]:
    """Each gate where its finding is or is expected; two of one day stand side by side."""
    taken, drawn = -9.0, []
    for gate in sorted(gates, key=lambda gate: gate.day):
        taken = max(_inside(gate.day) - 0.6, taken + 2.6)
        shape = "clear" if gate.is_open else "shut"
        drawn.append(f'<rect class="{shape}" x="{taken:.1f}" y="7" width="2.2" height="2"/>')
    return drawn


def tell(line: Line, say: Speech) -> list[str]:
    """The same facts as sentences: for a screen reader, and for whoever points at the picture."""
    told = [f"Day {line.today}." if line.today >= 0 else f"Surgery {say.date(line.surgery_on)}."]
    told += [tell_span(line, span, say) for span in line.spans]
    told += [tell_gate(line, gate, say) for gate in line.gates]
    told += [f"Found: {say.label(tick.kind).lower()} {_day(line, tick.day, say)}." for tick in line.ticks]
    return told


def tell_span(line: Line, span: Span, say: Speech) -> str:
    name = say.label(span.kind)
    if span.done is not None:
        return f"{name}: done {_day(line, span.done, say)}."
    window = f"{_day(line, span.earliest, say)} to {_day(line, span.latest, say)}"
    kept = "" if span.booked is None else f", booked {_day(line, span.booked, say)}"
    maybe = ", provisional" if span.provisional else ""
    return f"{name}: {say.label(span.status)}, {window}{kept}{maybe}."


def tell_gate(line: Line, gate: Gate, say: Speech) -> str:
    if gate.is_open:
        return f"Gate open: {GATES[gate.lock]} {_day(line, gate.day, say)}."
    return f"Gate shut: {say.label(gate.lock)}."


def _day(line: Line, day: int, say: Speech) -> str:
    return say.day(date.fromordinal(line.surgery_on.toordinal() + day), day)


# The large line. Across it counts in per cent, so that it fills the page while text and strokes keep their size.

HEAD, STEP, THICK = 24, 26, 12
NAMED = 31
"""So many days the name of a gate may cover, with its distance, on a screen of 360 pixels."""


def large(line: Line, whys: Mapping[str, Sequence[str]]) -> SafeString:
    """The line of one episode, with names. Each part leads to its entry in the list of facts beneath, which says why.

    `whys` holds the sentences of a follow-up by its key, and of a gate by its lock.
    """
    say = speech()
    foot = HEAD + STEP * (len(line.spans) + len(line.gates)) + 6
    parts = [
        f'<svg class="long" width="100%" height="{foot + 44}" role="group" aria-label="Day line">',
        _scale(line, foot),
        _now(line, foot),
    ]
    for place, span in enumerate(line.spans):
        parts.append(_lane(line, span, HEAD + STEP * place, whys, say))
    for place, (gate, after) in enumerate(_apart(line.gates), len(line.spans)):
        parts.append(_gate_lane(line, gate, after, HEAD + STEP * place, foot, whys, say))
    parts.extend(
        f'<line class="tick" x1="{_at(t.day + 0.5)}" x2="{_at(t.day + 0.5)}" y1="{foot + 2}" y2="{foot + 11}"/>'
        for t in line.ticks
    )
    parts.append("</svg>")
    return mark_safe("".join(parts))


def _at(day: float) -> str:
    return f"{1 + max(0.0, min(day, BEYOND)) * 98 / BEYOND:.2f}%"


def _scale(line: Line, foot: int) -> str:
    parts = [f'<line class="axis" x1="{_at(0)}" x2="{_at(BEYOND)}" y1="{foot}" y2="{foot}"/>']
    for day in range(0, UNTIL, 14):
        x = _at(day + 0.5)
        said, anchor = _date(line.on(day)), "middle"
        if not day:  # it begins at the edge, so on a narrow screen it would run into the next
            said, anchor = f"<tspan>{said}</tspan>", "start"
        parts.append(
            f'<line class="axis" x1="{x}" x2="{x}" y1="{foot - 3}" y2="{foot + 3}"/>'
            f'<text x="{x}" y="{foot + 25}" text-anchor="{anchor}">{"day " if not day else ""}{day}</text>'
            f'<text class="soft" x="{x}" y="{foot + 40}" text-anchor="{anchor}">{said}</text>'
        )
    return "".join(parts)


def _date(on: date) -> str:
    return f"{on.day} {on:%b}"


def _now(line: Line, foot: int) -> str:
    if line.today < 0:
        return ""
    x = _at(line.today + 0.5)
    anchor = "end" if line.today > UNTIL - 12 else "start" if line.today < 12 else "middle"
    return (
        _stroke(line.today, 18, foot + 11)
        + f'<text class="today" x="{x}" y="12" text-anchor="{anchor}">today, day {line.today}</text>'
    )


def _stroke(today: int, top: int, foot: int) -> str:
    """The line of today, drawn beneath the names, and once more over the bar that it stands in."""
    x = _at(today + 0.5)
    return f'<line class="now" x1="{x}" x2="{x}" y1="{top}" y2="{foot}"/>'


def _lane(line: Line, span: Span, top: int, whys: Mapping[str, Sequence[str]], say: Speech) -> str:
    start, end = _inside(span.earliest), _inside(span.latest) + 1
    shape = SHAPES[span.status] + (" maybe" if span.provisional else "")
    thick = 4 if span.status is Status.DONE else THICK
    width = (end - start) * 98 / BEYOND
    y = top + (THICK - thick) / 2
    parts = [f'<rect class="{shape}" x="{_at(start)}" y="{y:g}" width="{width:.2f}%" height="{thick}"/>']
    if span.status is Status.LATE:
        today, middle = _at(line.today + 0.5), top + THICK // 2
        parts.append(f'<line class="over" x1="{_at(end)}" x2="{today}" y1="{middle}" y2="{middle}"/>')
        parts.append(
            f'<svg x="{_at(end)}" y="{top}" overflow="visible"><path class="{shape}" d="M0 0l6 6-6 6z"/></svg>'
        )
    if start <= line.today < end:
        parts.append(_stroke(line.today, top, top + THICK))
    at = span.done if span.done is not None else span.booked
    if at is not None:
        parts.append(f'<circle class="at" cx="{_at(at + 0.5)}" cy="{top + 6}" r="5"/>')
    reach = max(end, line.today + 1 if span.status is Status.LATE else 0, (at or 0) + 2)
    before = start if at is None else min(start, at - 1)
    names = say.label(span.kind), say.label(span.status)
    parts.append(_name(before, reach, top, *names, after=reach < UNTIL / 2))
    return _linked(span.key, tell_span(line, span, say), whys.get(span.key, ()), "".join(parts))


def _apart(gates: Iterable[Gate]) -> list[tuple[Gate, bool]]:
    """The gates from above, each with whether its name stands after it: so that no stem runs through another name.

    A stem passes every lane beneath its own: where names stand after their gates the earliest has to be the highest,
    where they stand before them the latest. All on one side if there is room for it on a telephone.
    """
    order = sorted(gates, key=lambda gate: gate.day)
    days = [_inside(gate.day) for gate in order]
    if all(day <= UNTIL - NAMED for day in days):
        return [(gate, True) for gate in order]
    middle = 0 if days[0] >= NAMED else UNTIL / 2
    before = [gate for gate in reversed(order) if gate.day >= middle]
    after = [gate for gate in order if gate.day < middle]
    return [(gate, False) for gate in before] + [(gate, True) for gate in after]


def _gate_lane(
    line: Line, gate: Gate, after: bool, top: int, foot: int, whys: Mapping[str, Sequence[str]], say: Speech
) -> str:
    x = _at(gate.day + 0.5)
    shape = "clear" if gate.is_open else "shut"
    notch = (
        f'<line class="axis" x1="{x}" x2="{x}" y1="{top + 10}" y2="{foot}"/>'
        f'<svg x="{x}" y="{top}" overflow="visible"><rect class="{shape}" x="-5.5" y="1" width="11" height="10"/></svg>'
    )
    asked, state = ("", "open") if gate.is_open else ("?", "shut")  # a telephone has no room for the state
    name = _name(gate.day, gate.day + 2, top, GATES[gate.lock].capitalize() + asked, f"gate {state}", after=after)
    return _linked(gate.lock, tell_gate(line, gate, say), whys.get(gate.lock, ()), notch + name)


def _name(start: int, reach: int, top: int, name: str, state: str, *, after: bool) -> str:
    """The words beside a mark, after it or before it."""
    x, anchor, aside = (_at(reach), "start", 8) if after else (_at(start), "end", -8)
    text = f'{escape(name)}<tspan class="soft"> {escape(state)}</tspan>'
    return f'<text x="{x}" dx="{aside}" y="{top + 10}" text-anchor="{anchor}">{text}</text>'


def _linked(key: str, told: str, why: Sequence[str], drawing: str) -> str:
    """A part of the line as a link to its entry beneath; pointing at it shows what it is and why."""
    words = escape(" ".join((told, *why)))
    return f'<a href="#{anchor(key)}" aria-label="{words}" data-why><title>{words}</title>{drawing}</a>'


def anchor(key: str) -> str:
    """The id of the entry of a follow-up or gate in the list of facts."""
    return escape(f"why-{key.replace(':', '-')}")
