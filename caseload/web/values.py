"""The day of a therapist and the patients found, as rows of values for a file: one for each line that is shown."""

from collections.abc import Iterable
from datetime import date

from caseload.booking.slots import clock
from caseload.exchange.cells import Cell
from caseload.reads.search import Match
from caseload.reads.today import Day, Entry, Part, Section
from caseload.timetable.terms import ActivityKind, Digit, FollowUpKind, Outcome, Side
from caseload.wording import label

Rows = list[list[Cell]]
DAY = [
    "Part", "Day of the list", "Family name", "Given name", "Born", "Hand", "Finger", "Surgery", "Day", "Due",
    "Earliest", "Latest", "Proposed", "Booked", "Still locked", "Mind",
    "Time", "Site", "Outcome",
]  # fmt: skip
FOUND = ["Family name", "Given name", "Born", "Numbers", "Telephone", "Hand", "Finger", "Surgery", "Closed"]
PARTS = {
    Part.SESSION: "session",
    Part.BESIDE: "booked elsewhere",
    Part.PROPOSED: "proposed, not booked",
    Part.OUTCOME: "no outcome recorded",
    Part.LATE: "late",
    Part.OPEN: "open, without a day",
    Part.AHEAD: "ahead",
}


def day_values(day: Day) -> Rows:
    """A row for each follow-up of each entry, in the order of the page."""
    return [
        row for section in day.sections for entry in section.entries for row in _entry_values(section, entry, day.on)
    ]


def _entry_values(section: Section, entry: Entry, on: date) -> Rows:
    person = entry.person
    number = (on - person.surgery_on).days if person.surgery_on else None
    who: list[Cell] = [
        PARTS[section.part], section.on or on, person.family, person.given, person.born_on, _side(person.side),
        _digit(person.digit), person.surgery_on, number,
    ]  # fmt: skip
    locked = ", ".join(label(kind) for kind in ActivityKind if kind in entry.locked)
    mind = ", ".join(_mind(entry))
    visit = entry.visit
    place: list[Cell] = [
        clock(visit.start) if visit and visit.start is not None else "",
        section.sitting.site if section.sitting else "",
        label(Outcome(visit.outcome)) if visit and visit.outcome else "",
    ]  # fmt: skip
    return [
        [
            *who, label(FollowUpKind(due.kind)), due.earliest_on, due.latest_on, due.proposed_on, due.booked_on,
            locked, mind, *place,
        ]
        for due in entry.due
    ]  # fmt: skip


def _mind(entry: Entry) -> list[str]:
    person = entry.person
    said = {
        "red flag open": entry.red_flag,
        f"dressing allergy: {person.dressing_allergy}": bool(person.dressing_allergy),
        "same name today: check the birth date": entry.same_name,
        "raised risk": person.raised_risk,
        f"interpreter {person.language}".strip(): person.interpreter,
    }
    return [words for words, applies in said.items() if applies]


def found_values(found: Iterable[Match]) -> Rows:
    """A row for each episode of the patients found, and one for a patient without any."""
    return [row for match in found for row in _match_values(match)]


def _match_values(match: Match) -> Rows:
    who: list[Cell] = [match.family, match.given, match.born_on, ", ".join(match.numbers), match.phone]
    hands: Rows = [[_side(one.side), _digit(one.digit), one.surgery_on, one.ended_on] for one in match.episodes]
    return [[*who, *hand] for hand in hands or [["", "", None, None]]]


def _side(side: str) -> str:
    return label(Side(side)) if side else ""


def _digit(digit: str) -> str:
    return label(Digit(digit)) if digit else ""
