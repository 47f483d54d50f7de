"""A whole list held against the record, row by row in its order, and its rows against each other."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import NamedTuple

from caseload.exchange import likeness as persons
from caseload.exchange.likeness import PersonKey, likeness
from caseload.exchange.operated import Problem, Severity
from caseload.models import Verdict
from caseload.parsing import in_words, quoted
from caseload.reads.matching.entry import Entry
from caseload.reads.matching.facts import differing_person
from caseload.reads.matching.match import Match, Note, OperationMatch
from caseload.reads.matching.on_record import OnRecord, last_said
from caseload.reads.matching.operations import Meeting, Setting, meet
from caseload.reads.matching.persons import Whose, whose

_LOOKED_AT = 100
"""Newcomers compared for each thing shared."""
_SETTLED_BY_NUMBER = "birth-date-missing"


class _Who(NamedTuple):
    """A person of the list: a code on record, or the number of the first row of somebody new."""

    patient: str
    new_of: int | None


@dataclass
class _List:
    """What the rows before have brought: newcomers, and who claims which number."""

    newcomers: dict[PersonKey, int] = field(default_factory=dict)
    sharing: defaultdict[object, list[PersonKey]] = field(default_factory=lambda: defaultdict(list))
    claims: dict[tuple[str, str], tuple[_Who, int]] = field(default_factory=dict)

    def newcomer(self, entry: Entry) -> int:
        """The number of the first row of this new person."""
        key = entry.key
        if key not in self.newcomers:
            self.newcomers[key] = self._same(key) or entry.number
            for shared in (*key.numbers, key.name):
                self.sharing[shared].append(key)
        return self.newcomers[key]

    def _same(self, key: PersonKey) -> int | None:
        near = (other for shared in (*sorted(key.numbers), key.name) for other in self.sharing[shared][-_LOOKED_AT:])
        return next((self.newcomers[o] for o in near if likeness(key, o).verdict is persons.Verdict.SAME), None)

    def clash(self, entry: Entry, who: _Who) -> int | None:
        """The row whose other person has a number of this one, if any; else the numbers are claimed for `who`."""
        for number in sorted(entry.key.numbers):
            owner, row = self.claims.get(number, (who, 0))
            if owner != who:
                return row
        self.claims |= dict.fromkeys(entry.key.numbers, (who, entry.number))
        return None


def match_all(
    entries: Sequence[Entry], record: OnRecord, *, columns: Mapping[str, str], today: date
) -> dict[int, Match]:
    """The match of each row by its number. Pure: reads nothing but what `record` holds."""
    seen, setting = _List(), Setting(record, columns, today)
    matches = {entry.number: _match(entry, seen, setting) for entry in entries}
    for number, notes in _namesakes(entries, matches).items():
        matches[number] = replace(matches[number], notes=(*matches[number].notes, *notes))
    return matches


def _match(entry: Entry, seen: _List, setting: Setting) -> Match:
    person = whose(entry, setting.record, setting.columns)
    plain = _plain_doubts(entry, person, setting)
    if not person.settled:
        return Match(Verdict.DOUBTFUL, remarks=person.doubts, notes=person.notes, people=person.people)
    who = _Who(person.known.patient.code, None) if person.known else _Who("", seen.newcomer(entry))
    met = [meet(entry, digit, person.known, setting) for digit in entry.value.digits]
    refusals = _refusals(entry, person, setting)
    decided = all(each.match for each in met) and (not plain or entry.decision.made)
    if decided and not refusals and (row := seen.clash(entry, who)):
        refusals = (_number_clash(row),)
    found = _told(entry, person, who, met, refusals, setting)
    verdict, outcome = _verdict(found, bool(plain), decided, bool(refusals))
    return replace(found, verdict=verdict, outcome=outcome)


def _plain_doubts(entry: Entry, person: Whose, setting: Setting) -> list[Problem]:
    """What the cells leave in doubt. A person settled by number needs no birth date; a row of this very file that was
    taken before has been answered.
    """
    if person.known and any(row.is_of(entry) for row in setting.record.earlier.get(person.known.patient.pk, ())):
        return []
    by_number = bool(person.known and person.settled and person.known.key.numbers & entry.key.numbers)
    return [problem for problem in entry.problems if not (by_number and problem.code == _SETTLED_BY_NUMBER)]


def _told(
    entry: Entry, person: Whose, who: _Who, met: list[Meeting], refusals: tuple[Problem, ...], setting: Setting
) -> Match:
    told = Match(
        verdict=Verdict.NEW,
        patient=who.patient,
        new_of=who.new_of,
        operations=tuple(each.match for each in met if each.match),
        remarks=(*refusals, *person.doubts, *(doubt for each in met for doubt in each.doubts)),
        notes=(*person.notes, *(note for each in met for note in each.notes)),
        people=person.people,
        episodes=tuple(dict.fromkeys(code for each in met for code in each.episodes)),
    )
    if person.known is None:
        return told
    last = last_said(entry, setting.record.earlier.get(person.known.patient.pk, []))
    facts, numbers, changes = differing_person(entry, person.known, last)
    return replace(told, person=tuple(changes), person_facts=facts, numbers=numbers)


def _verdict(found: Match, plain: bool, decided: bool, refused: bool) -> tuple[Verdict, Verdict | None]:
    if refused:
        return Verdict.REFUSED, None
    outcome = _outcome(found.operations, bool(found.person)) if decided else None
    doubtful = plain or bool(found.remarks)
    return (Verdict.DOUBTFUL if doubtful or outcome is None else outcome), outcome


def _outcome(operations: tuple[OperationMatch, ...], person: bool) -> Verdict:
    if any(not each.episode for each in operations):
        return Verdict.NEW
    return Verdict.CHANGED if person or any(each.changes for each in operations) else Verdict.KNOWN


def _refusals(entry: Entry, person: Whose, setting: Setting) -> tuple[Problem, ...]:
    return tuple(filter(None, (_no_site(entry, setting), _before_birth(entry, person, setting))))


def _no_site(entry: Entry, setting: Setting) -> Problem | None:
    record, name = setting.record, entry.value.site
    if record.site_named(name) or not name and record.site:
        return None
    known = ", ".join(site.name for site in record.sites.values()) or "none is set up yet"
    if name:
        message = f"{quoted(name)} is not a site of this service: write one of these: {known}."
        return Problem(setting.columns.get("site", ""), "site-unknown", message, Severity.REFUSED)
    message = f"Nothing says for which site this is: choose one for the whole list ({known})."
    return Problem("", "site-missing", message, Severity.REFUSED)


def _before_birth(entry: Entry, person: Whose, setting: Setting) -> Problem | None:
    born_on = person.known.patient.born_on if person.known else None
    if born_on is None or born_on <= entry.value.surgery_on:
        return None
    message = f"By the record this patient was born {in_words(born_on)}, after this surgery: check both dates."
    return Problem(setting.columns.get("surgery_on", ""), "surgery-before-birth", message, Severity.REFUSED)


def _number_clash(row: int) -> Problem:
    message = f"Row {row} gives a number of this row to somebody else: correct the number in one of them."
    return Problem("", "number-twice", message, Severity.REFUSED, row)


def _namesakes(entries: Sequence[Entry], matches: Mapping[int, Match]) -> dict[int, list[Note]]:
    """Rows of different people with one name: both are marked."""
    named: dict[tuple[str, str], dict[object, Entry]] = defaultdict(dict)
    for entry in entries:
        named[entry.key.name].setdefault(_person(entry, matches[entry.number]), entry)
    found: dict[int, list[Note]] = {}
    for entry in entries:
        same = named[entry.key.name]
        mine = _person(entry, matches[entry.number])
        other = next((each for person, each in same.items() if person != mine), None)
        if other and not any(problem.other == other.number for problem in entry.problems):
            found[entry.number] = [_namesake(other)]
    return found


def _person(entry: Entry, match: Match) -> object:
    return match.patient or match.new_of or entry.key


def _namesake(other: Entry) -> Note:
    born = f"born {in_words(other.key.born_on)}" if other.key.born_on else "birth date not known"
    return Note("", f"Row {other.number} has the same name, {born}: mind the birth date.")
