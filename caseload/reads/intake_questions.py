"""What a doubtful row asks: the choices it leaves, with what is known of each side by side."""

from collections.abc import Iterable, Mapping
from datetime import date
from typing import NamedTuple

from caseload.models import Episode, IntakeBatch, IntakeRow, Patient
from caseload.parsing import Scheme
from caseload.reads.intake import CellProblem, by_cell, match_of, problems_of, say_what, say_who
from caseload.reads.intake_rows import entry_of_row, texts_of
from caseload.reads.matching.entry import NEW, Decision, Entry
from caseload.reads.matching.match import Match
from caseload.timetable.terms import Suture, Technique
from caseload.wording import label, say_date
from caseload.wording.record import say_hand


class Choice(NamedTuple):
    value: str
    text: str


class Fact(NamedTuple):
    """What is shown, and what is compared where that is not the same."""

    text: str
    key: str


class Cell(NamedTuple):
    """`differs`: both sides say something, and not the same."""

    text: str
    differs: bool


class Side(NamedTuple):
    """One column of a comparison; `patient` is the code of the one it leads to."""

    title: str
    facts: Mapping[str, Fact]
    patient: str = ""


class Comparison(NamedTuple):
    sides: tuple[Side, ...]
    lines: tuple[tuple[str, tuple[Cell, ...]], ...]


class Question(NamedTuple):
    """`field` and the row's number name the answer; `chosen` is "" while the row is left out."""

    field: str
    legend: str
    choices: tuple[Choice, ...]
    chosen: str


class Asking(NamedTuple):
    """A doubtful row; without questions it is taken as it was read, or left out.

    `beside` compares it with the patients, operations and other rows that it is about, if it is about any.
    """

    number: int
    who: str
    what: str
    problems: tuple[CellProblem, ...]
    notes: tuple[str, ...]
    questions: tuple[Question, ...]
    beside: Comparison | None
    read: bool


class _Known(NamedTuple):
    people: Mapping[str, Patient]
    episodes: Mapping[str, Episode]
    rows: Mapping[int, Entry]


def askings(rows: Iterable[IntakeRow], batch: IntakeBatch) -> list[Asking]:
    """The doubtful rows of one page, in a constant number of queries."""
    read = [(row, match_of(row)) for row in rows]
    known = _known(read, batch)
    return [_asking(row, match, batch, known) for row, match in read]


def _known(read: list[tuple[IntakeRow, Match]], batch: IntakeBatch) -> _Known:
    people = {code for _, match in read for code in match.people} - {NEW}
    episodes = {code for _, match in read for code in match.episodes} - {NEW}
    numbers = {each.other for row, match in read for each in problems_of(row, match) if each.other}
    patients = Patient.objects.filter(code__in=people).prefetch_related("identifiers", "episodes") if people else []
    operated = Episode.objects.filter(code__in=episodes).select_related("patient") if episodes else []
    others = batch.rows.filter(number__in=numbers) if numbers else []
    return _Known(
        {row.code: row for row in patients},
        {row.code: row for row in operated},
        {row.number: entry for row in others if (entry := entry_of_row(row))},
    )


def _asking(row: IntakeRow, match: Match, batch: IntakeBatch, known: _Known) -> Asking:
    entry, decision = entry_of_row(row), Decision.from_json(row.decision)
    assert entry, "a doubtful row could be read"
    problems = problems_of(row, match)
    about = {problem.other for problem in problems}
    others = [Side(f"Row {number}", _said(other)) for number, other in known.rows.items() if number in about]
    people = [known.people[code] for code in match.people if code in known.people]
    operations = [known.episodes[code] for code in match.episodes if code in known.episodes]
    sides = [*others, *map(_patient, people), *map(_operated, operations)]
    return Asking(
        number=row.number,
        who=say_who(entry),
        what=say_what(entry),
        problems=by_cell(problems, texts_of(row, batch.headers)),
        notes=tuple(note.message for note in match.notes),
        questions=tuple(_questions(row.number, match, decision, known)),
        beside=_compare([Side(f"Row {row.number}", _said(entry)), *sides]) if sides else None,
        read=decision.made,
    )


def _questions(number: int, match: Match, decision: Decision, known: _Known) -> Iterable[Question]:
    if match.people:
        choices = tuple(Choice(code, _person(code, known)) for code in match.people)
        yield Question("person", f"Who is row {number}?", choices, _kept(decision.person, match.people))
    if match.episodes:
        choices = tuple(Choice(code, _operation(code, known)) for code in match.episodes)
        chosen = _kept(decision.operation, match.episodes)
        yield Question("operation", f"Which operation is row {number}?", choices, chosen)


def _kept(answer: str, offered: Iterable[str]) -> str:
    """The answer, if it is still one of those offered."""
    return answer if answer in offered else ""


def _person(code: str, known: _Known) -> str:
    return f"The same person as {known.people[code]}" if code in known.people else "Somebody else: add a new patient"


def _operation(code: str, known: _Known) -> str:
    if code not in known.episodes:
        return "Another operation: open a new episode"
    on = known.episodes[code].surgery_on
    return f"The operation of {say_date(on) if on else 'a day not known yet'}: correct it as the list says"


def _compare(sides: list[Side]) -> Comparison:
    """Who it is, always; of the operation, what differs from the first side."""
    names = dict.fromkeys(name for side in sides for name, fact in side.facts.items() if fact.text)
    lines = [(name, tuple(_cell(side, sides[0], name) for side in sides)) for name in names]
    shown = [line for line in lines if line[0] in ALWAYS or any(cell.differs for cell in line[1])]
    return Comparison(tuple(sides), tuple(shown))


def _cell(side: Side, first: Side, name: str) -> Cell:
    mine, other = side.facts.get(name, NOTHING), first.facts.get(name, NOTHING)
    return Cell(mine.text, bool(mine.key and other.key) and mine.key != other.key)


def _facts(**said: str | tuple[str, str]) -> dict[str, Fact]:
    named = {name.replace("_", " "): (text, text) if isinstance(text, str) else text for name, text in said.items()}
    return {name: Fact(text, key.casefold()) for name, (text, key) in named.items()}


def _said(entry: Entry) -> dict[str, Fact]:
    value = entry.value
    return _facts(
        Name=f"{value.family.upper()}, {value.given}",
        Born=_day(value.born_on),
        NHS_number=(value.nhs_number.as_typed, value.nhs_number.value) if value.nhs_number else "",
        Hospital_number=(value.hospital_number.as_typed, value.hospital_number.value) if value.hospital_number else "",
        Telephone=(value.phone.as_typed, value.phone.value) if value.phone else "",
        Hand_and_finger=f"{label(value.side)} {' and '.join(label(digit) for digit in value.digits)}",
        Surgery=_day(value.surgery_on),
        Technique=label(value.technique),
        Suture=label(value.suture),
        Stitches_put_in=_count(value.stitches_in),
        Surgeon=value.surgeon,
    )


def _patient(patient: Patient) -> Side:
    numbers = {row.scheme: (row.as_typed, row.value) for row in patient.identifiers.all()}
    return Side(
        f"{patient}, on record",
        _facts(
            Name=str(patient),
            Born=_day(patient.born_on),
            NHS_number=numbers.get(Scheme.NHS, ""),
            Hospital_number=numbers.get(Scheme.HOSPITAL, ""),
            Telephone=(patient.phone, patient.phone_key),
            Operated="; ".join(
                f"{say_hand(row)}, {_day(row.surgery_on) or 'no day yet'}" for row in patient.episodes.all()
            ),
        ),
        patient.code,
    )


def _operated(episode: Episode) -> Side:
    facts = _facts(
        Finger=say_hand(episode),
        Surgery=_day(episode.surgery_on),
        Technique=label(Technique(episode.technique)),
        Suture=label(Suture(episode.suture)),
        Stitches_put_in=_count(episode.stitches_in),
        Surgeon=episode.surgeon,
    )
    return Side("Operation on record" + (", closed" if episode.ended_on else ""), facts, episode.patient.code)


def _day(on: date | None) -> str:
    return say_date(on) if on else ""


def _count(stitches: int | None) -> str:
    return "" if stitches is None else str(stitches)


NOTHING = Fact("", "")
ALWAYS = frozenset({"Name", "Born", "NHS number", "Hospital number", "Telephone", "Operated", "Finger", "Surgery"})
