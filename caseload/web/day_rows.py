"""The rows of a therapist's day: one body of the table for each part, with its heading."""

from datetime import date

from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe

from caseload.reads.lines import Stored
from caseload.reads.today import Day, Entry, Part, Person, Section
from caseload.timetable.terms import ActivityKind, FollowUpKind, Lock, Status
from caseload.web import dayline, marks
from caseload.web.rows import day_number, hand, who
from caseload.wording import label, say_date
from caseload.wording.dates import say_days

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
    return mark_safe("".join(_body(section, today) for section in day.sections))


def _body(section: Section, today: date) -> str:
    title, says = _head(section, today)
    count = f'<span class="soft">{len(section.entries)}{" · " if says else ""}{says}</span>'
    head = f'<tr class="part"><th colspan="4" scope="rowgroup"><h2>{title} {count}</h2></th></tr>'
    rows = "".join(_row(entry, today) for entry in section.entries)
    return f"<tbody>{head}{rows or NOBODY}</tbody>"


def _head(section: Section, today: date) -> tuple[str, str]:
    if section.part is Part.TODAY:
        return "Today", ""
    if section.on:
        return say_date(section.on), f"in {say_days((section.on - today).days)}"
    return HEADS[section.part]


def _row(entry: Entry, today: date) -> str:
    person = entry.person
    return (
        f'<tr><th scope="row">{who(person.code, person.family, person.given, person.born_on)}{_warnings(entry)}</th>'
        f'<td class="span">{"".join(_due(row, today) for row in entry.due)}</td>'
        f'<td class="span">{hand(person.side, person.digit)} · day {day_number(person.surgery_on, today)}'
        f"{dayline.small(entry.line)}</td>"
        f'<td class="span">{_locked(entry.locked)}</td></tr>'
    )


def _due(row: Stored, today: date) -> str:
    status = row.status(today)
    maybe = ", provisional" if row.provisional else ""
    what = f"{marks.shape(marks.SHAPES[status])}{label(FollowUpKind(row.kind))}"
    return f"<div>{what}<small>{_when(row, status, today)}{maybe}</small></div>"


def _when(row: Stored, status: Status, today: date) -> str:
    if row.booked_on:
        inside = row.earliest_on <= row.booked_on <= row.latest_on
        return f"booked {say_date(row.booked_on)}" + ("" if inside else ", outside its window")
    if status is Status.LATE:
        return f"{say_days((today - row.latest_on).days)} late, last day was {say_date(row.latest_on)}"
    visit = "not booked, " if row.minutes else ""
    return f"{visit}{say_date(row.earliest_on)} to {say_date(row.latest_on)}"


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


def _locked(locked: dict[Lock, tuple[ActivityKind, ...]]) -> str:
    """What must wait, and for what: activities that wait for the same are named together."""
    waits: dict[ActivityKind, list[Lock]] = {}
    for lock in Lock:
        for kind in locked.get(lock, ()):
            waits.setdefault(kind, []).append(lock)
    together: dict[tuple[Lock, ...], list[ActivityKind]] = {}
    for kind, locks in waits.items():
        together.setdefault(tuple(locks), []).append(kind)
    return "".join(_waiting(kinds, locks) for locks, kinds in together.items()) or '<span class="soft">nothing</span>'


def _waiting(kinds: list[ActivityKind], locks: tuple[Lock, ...]) -> str:
    names = ", ".join(label(kind) if not place else label(kind).lower() for place, kind in enumerate(kinds))
    until = " and ".join(UNTIL[lock] for lock in locks)
    return f"<div>{marks.shape('shut')}{escape(names)}<small>until {until}</small></div>"
