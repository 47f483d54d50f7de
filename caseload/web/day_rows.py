"""The rows of a therapist's day: one body of the table for each session and each part, with its heading."""

from dataclasses import dataclass
from datetime import date
from html import escape

from django.utils.safestring import SafeString, mark_safe

from caseload.booking.slots import clock
from caseload.models import Told
from caseload.reads.lines import Stored
from caseload.reads.sittings import Sitting, Visit
from caseload.reads.today import Day, Entry, Part, Person, Section
from caseload.timetable.activities import Locks
from caseload.timetable.terms import ActivityKind, FollowUpKind, Lock, Status
from caseload.web import dayline, marks
from caseload.web.rows import Teller
from caseload.web.visit_rows import Presses, visit_state

HEADS = {
    Part.BESIDE: ("Booked elsewhere", "my patients in no session of mine"),
    Part.PROPOSED: ("Proposed, not booked", "the day that the timetable proposes"),
    Part.OUTCOME: ("No outcome recorded", "the day has passed: attended, did not attend or cancelled?"),
    Part.LATE: ("Late", "the last day has passed, and nothing is booked"),
    Part.OPEN: ("Open, without a day", "the window is open and the proposed day has passed"),
}
NOBODY = '<tr><td colspan="4" class="soft span">Nobody is booked.</td></tr>'
UNTIL = {
    Lock.WOUND_CLOSED: "the wound is recorded closed",
    Lock.STITCHES_OUT: "the stitches are recorded out",
    Lock.TRIMMED: "the ends are trimmed",
    Lock.INSTRUCTION: "the surgeon's instruction is lifted",
}


@dataclass(frozen=True, slots=True)
class Telling:
    """What the rows of a day need to speak: the words, the day looked at, the buttons."""

    tell: Teller
    day: Day
    presses: Presses


def section_rows(day: Day, tell: Teller, presses: Presses) -> SafeString:
    telling = Telling(tell, day, presses)
    return mark_safe("".join(_body(section, telling) for section in day.sections))


def _body(section: Section, telling: Telling) -> str:
    title, says = _head(section, telling.tell, telling.day.on)
    heading = f'<h2>{title} <span class="soft">{says}</span></h2>'
    head = f'<tr class="part"><th class="span" colspan="4" scope="rowgroup">{heading}</th></tr>'
    rows = "".join(_row(entry, section, telling) for entry in section.entries) + _left_out(section)
    free = _free(section.sitting) if section.sitting else ""
    return f"<tbody>{head}{rows or NOBODY}{free}</tbody>"


def _left_out(section: Section) -> str:
    """Those of a session whose record is a colleague's by now: that they were booked, not who they were."""
    named = {entry.visit.code for entry in section.entries if entry.visit}
    count = sum(held.visit.code not in named for held in section.sitting.visits) if section.sitting else 0
    if not count:
        return ""
    said = "1 patient of a colleague is" if count == 1 else f"{count} patients of colleagues are"
    return f'<tr><td colspan="4" class="soft span">{said} not named here.</td></tr>'


def _head(section: Section, tell: Teller, day: date) -> tuple[str, str]:
    if section.sitting:
        return _session_head(section.sitting, to_come=day > tell.today)
    count = str(len(section.entries))
    if section.on:
        return tell.whole_date(section.on), f"{count} · in {tell.say.days((section.on - day).days)}"
    title, says = HEADS[section.part]
    return title, f"{count} · {says}"


def _session_head(sitting: Sitting, *, to_come: bool) -> tuple[str, str]:
    seen, booked = len(sitting.seen), len(sitting.visits)
    says = f"{booked} booked" + (f" · {booked - seen} without an outcome" if booked > seen and not to_come else "")
    return f"{clock(sitting.start)} to {clock(sitting.end)} {escape(sitting.site)}", says


def _free(sitting: Sitting) -> str:
    if not sitting.free:
        return ""
    return f'<tr><td colspan="4" class="soft span">{len(sitting.free)} free from {clock(sitting.free[0])}</td></tr>'


def _row(entry: Entry, section: Section, telling: Telling) -> str:
    person, tell = entry.person, telling.tell
    who = tell.who(person.code, person.family, person.given, person.born_on)
    due = "".join(_due(row, section, telling) for row in entry.due)
    return (
        f'<tr><th scope="row" class="span">{_time(entry)}{who}{_warnings(entry)}{_absent(person, tell)}</th>'
        f'<td class="span">{due}{_visit(entry, section, telling)}</td>'
        f'<td class="span">{tell.hand(person.side, person.digit)} · day {_number(person, telling)}'
        f"{dayline.small(entry.line, tell.say)}</td>"
        f'<td class="span">{_locked(entry.locked, tell)}</td></tr>'
    )


def _number(person: Person, telling: Telling) -> str:
    """The number of the day looked at, counted from surgery."""
    return str((telling.day.on - person.surgery_on).days) if person.surgery_on else "?"


def _time(entry: Entry) -> str:
    if entry.visit is None or entry.visit.start is None:
        return ""
    return f"<b>{clock(entry.visit.start)}</b> " + ('<span class="soft">same visit</span> ' if entry.again else "")


def _visit(entry: Entry, section: Section, telling: Telling) -> str:
    """How far the visit is, and what can be recorded of it: once, however many fingers it is for."""
    if entry.again or section.part is Part.AHEAD:
        return ""
    name = f"{entry.person.family.upper()}, {entry.person.given}"
    if entry.visit is None:
        return telling.presses.without(entry.person.code, name)
    state = visit_state(entry.visit)
    waits = section.part is not Part.OUTCOME
    presses = telling.presses.of(entry.visit, name, same_name=entry.same_name, waits=waits)
    return (f"<div>{state}</div>" if state else "") + presses


def _absent(person: Person, tell: Teller) -> str:
    away = tell.away.get(person.therapist_id or 0)
    return f"<small>{away}</small>" if away else ""


def _due(row: Stored, section: Section, telling: Telling) -> str:
    tell = telling.tell
    status = row.status(tell.today)
    maybe = ", provisional" if row.provisional else ""
    when = _window(row, telling) if section.sitting else _when(row, status, tell)
    what = f"{marks.shape(marks.SHAPES[status])}{tell.say.label(FollowUpKind(row.kind))}"
    is_past = telling.day.on < tell.today and section.part is not Part.AHEAD
    now = f", as of today: {tell.say.label(status)}" if is_past else ""
    return f"<div>{what}<small>{when}{maybe}{now}</small></div>"


def _when(row: Stored, status: Status, tell: Teller) -> str:
    say = tell.say
    if row.booked_on:
        inside = row.earliest_on <= row.booked_on <= row.latest_on
        return f"booked {tell.whole_date(row.booked_on)}" + ("" if inside else ", outside its window")
    if status is Status.LATE:
        return f"{say.days((tell.today - row.latest_on).days)} late, last day was {tell.whole_date(row.latest_on)}"
    return ("not booked, " if row.minutes else "") + _days(row, tell)


def _window(row: Stored, telling: Telling) -> str:
    """Of what has its place in a session of the day: the days inside which it belongs, wherever it is booked by now."""
    outside = not row.earliest_on <= telling.day.on <= row.latest_on
    return ("<b>outside its window</b>, " if outside else "") + _days(row, telling.tell)


def _days(row: Stored, tell: Teller) -> str:
    first, last = (tell.whole_date(on) for on in (row.earliest_on, row.latest_on))
    return f"{first} to {last}"


def _warnings(entry: Entry) -> str:
    """What whoever sees this patient must know before: each a word, the gravest first."""
    said = [f'<span class="tag alarm">{escape(word)}</span>' for word in _grave(entry)]
    said += [f'<span class="tag">{escape(word)}</span>' for word in _kind(entry.person, entry.visit)]
    return f'<div class="tags">{"".join(said)}</div>' if said else ""


def _grave(entry: Entry) -> list[str]:
    words = ["red flag open"] if entry.red_flag else []
    words += [f"dressing allergy: {entry.person.dressing_allergy}"] if entry.person.dressing_allergy else []
    return words + (["same name today: check the birth date"] if entry.same_name else [])


def _kind(person: Person, visit: Visit | None) -> list[str]:
    words = ["raised risk"] if person.raised_risk else []
    if person.interpreter:
        words.append(f"interpreter: {person.language}" if person.language else "interpreter")
    return words + _told(visit)


def _told(visit: Visit | None) -> list[str]:
    """Who does not know yet that there is a visit."""
    if visit is None or visit.outcome:
        return []
    words = [] if visit.told == Told.TOLD or visit.arrived_at else [Told(visit.told).label]
    return words + (["interpreter not told"] if visit.interpreter_told is False else [])


def _locked(locked: Locks, tell: Teller) -> str:
    """What must wait, and for what: activities that wait for the same are named together."""
    together: dict[tuple[Lock, ...], list[ActivityKind]] = {}
    for kind in ActivityKind:
        if kind in locked:
            together.setdefault(locked[kind], []).append(kind)
    return (
        "".join(_waiting(kinds, locks, tell) for locks, kinds in together.items())
        or '<span class="soft">no gate shut<small>each activity from its own day</small></span>'
    )


def _waiting(kinds: list[ActivityKind], locks: tuple[Lock, ...], tell: Teller) -> str:
    names = " · ".join(map(tell.say.label, kinds)).capitalize()
    until = " and ".join(UNTIL[lock] for lock in locks)
    return f"<div>{marks.shape('shut')}{escape(names)}<small>until {until}</small></div>"
