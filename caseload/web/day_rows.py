"""The rows of a therapist's day: one body of the table for each part, with its heading."""

from datetime import date
from html import escape

from django.utils.safestring import SafeString, mark_safe

from caseload.reads.lines import Stored
from caseload.reads.today import Day, Entry, Part, Person, Section
from caseload.timetable.activities import Locks
from caseload.timetable.terms import ActivityKind, FollowUpKind, Lock, Status
from caseload.web import dayline, marks
from caseload.web.rows import Teller

HEADS = {
    Part.OUTCOME: ("No outcome recorded", "the day has passed: attended, did not attend or cancelled?"),
    Part.LATE: ("Late", "the last day has passed, and nothing is booked"),
    Part.OPEN: ("Open, without a day", "the window is open and the proposed day has passed"),
}
NOBODY = '<tr><td colspan="4" class="soft span">Nobody is booked, and nothing is proposed for today.</td></tr>'
UNTIL = {
    Lock.WOUND_CLOSED: "the wound is recorded closed",
    Lock.STITCHES_OUT: "the stitches are recorded out",
    Lock.TRIMMED: "the ends are trimmed",
    Lock.INSTRUCTION: "the surgeon’s instruction is lifted",
}


def section_rows(day: Day, today: date) -> SafeString:
    tell = Teller(today)
    return mark_safe("".join(_body(section, tell) for section in day.sections))


def _body(section: Section, tell: Teller) -> str:
    title, says = _head(section, tell)
    count = f'<span class="soft">{len(section.entries)}{" · " if says else ""}{says}</span>'
    head = f'<tr class="part"><th colspan="4" scope="rowgroup"><h2>{title} {count}</h2></th></tr>'
    rows = "".join(_row(entry, tell) for entry in section.entries)
    return f"<tbody>{head}{rows or NOBODY}</tbody>"


def _head(section: Section, tell: Teller) -> tuple[str, str]:
    if section.part is Part.TODAY:
        return "Today", ""
    if section.on:
        return tell.say.date(section.on), f"in {tell.say.days((section.on - tell.today).days)}"
    return HEADS[section.part]


def _row(entry: Entry, tell: Teller) -> str:
    person = entry.person
    who = tell.who(person.code, person.family, person.given, person.born_on)
    return (
        f'<tr><th scope="row">{who}{_warnings(entry)}</th>'
        f'<td class="span">{"".join(_due(row, tell) for row in entry.due)}</td>'
        f'<td class="span">{tell.hand(person.side, person.digit)} · day {tell.number(person.surgery_on)}'
        f"{dayline.small(entry.line, tell.say)}</td>"
        f'<td class="span">{_locked(entry.locked, tell)}</td></tr>'
    )


def _due(row: Stored, tell: Teller) -> str:
    status = row.status(tell.today)
    maybe = ", provisional" if row.provisional else ""
    what = f"{marks.shape(marks.SHAPES[status])}{tell.say.label(FollowUpKind(row.kind))}"
    return f"<div>{what}<small>{_when(row, status, tell)}{maybe}</small></div>"


def _when(row: Stored, status: Status, tell: Teller) -> str:
    say = tell.say
    if row.booked_on:
        inside = row.earliest_on <= row.booked_on <= row.latest_on
        return f"booked {say.date(row.booked_on)}" + ("" if inside else ", outside its window")
    if status is Status.LATE:
        return f"{say.days((tell.today - row.latest_on).days)} late, last day was {say.date(row.latest_on)}"
    visit = "not booked, " if row.minutes else ""
    return f"{visit}{say.date(row.earliest_on)} to {say.date(row.latest_on)}"


def _warnings(entry: Entry) -> str:
    """What whoever sees this patient must know before: each a word, the gravest first."""
    said = [f'<span class="tag alarm">{escape(word)}</span>' for word in _grave(entry)]
    said += [f'<span class="tag">{escape(word)}</span>' for word in _kind(entry.person)]
    return f'<div class="tags">{"".join(said)}</div>' if said else ""


def _grave(entry: Entry) -> list[str]:
    words = ["red flag open"] if entry.red_flag else []
    words += [f"dressing allergy: {entry.person.dressing_allergy}"] if entry.person.dressing_allergy else []
    return words + (["same name today: check the birth date"] if entry.same_name else [])


def _kind(person: Person) -> list[str]:
    words = ["raised risk"] if person.raised_risk else []
    if person.interpreter:
        words.append(f"interpreter: {person.language}" if person.language else "interpreter")
    return words


def _locked(locked: Locks, tell: Teller) -> str:
    """What must wait, and for what: activities that wait for the same are named together."""
    together: dict[tuple[Lock, ...], list[ActivityKind]] = {}
    for kind in ActivityKind:
        if kind in locked:
            together.setdefault(locked[kind], []).append(kind)
    return (
        "".join(_waiting(kinds, locks, tell) for locks, kinds in together.items())
        or '<span class="soft">nothing</span>'
    )


def _waiting(kinds: list[ActivityKind], locks: tuple[Lock, ...], tell: Teller) -> str:
    names = " · ".join(map(tell.say.label, kinds)).capitalize()
    until = " and ".join(UNTIL[lock] for lock in locks)
    return f"<div>{marks.shape('shut')}{escape(names)}<small>until {until}</small></div>"
