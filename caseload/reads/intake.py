"""An uploaded theatre list as pages and the command show it: counts, rows with what each does, what is left out."""

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from django.db.models import Count, Q

from caseload.exchange.operated import Problem
from caseload.exchange.refused_rows import reason
from caseload.models import IntakeBatch, IntakeRow, Patient, Verdict
from caseload.parsing import quoted
from caseload.reads.intake_rows import entry_of_row, texts_of
from caseload.reads.matching.entry import Entry, problems_from_json
from caseload.reads.matching.match import Match, match_from_json
from caseload.timetable.terms import Digit, Suture
from caseload.wording import label, say_date
from caseload.wording.intake import say_change, say_opening

FEW_CELLS = 6
"""Cells of a row that could not be read that are enough to recognise it."""
LISTED = 10
SAMPLE = 30
NOT_ANSWERED = "Left out: it is doubtful, and nobody answered."
TAKEN = (Verdict.NEW, Verdict.CHANGED, Verdict.KNOWN)


class Tally(NamedTuple):
    """Rows by what they were found to be, and by what taking them does (or did); the others are left out. `writing` are
    those that write something and are not taken yet, `taken` those that are."""

    verdicts: Mapping[Verdict, int]
    outcomes: Mapping[Verdict, int]
    answered: int
    writing: int
    taken: int

    @property
    def rows(self) -> int:
        return sum(self.verdicts.values())

    @property
    def left_out(self) -> int:
        return self.rows - sum(self.outcomes.values())

    @property
    def waiting(self) -> int:
        """Doubtful rows that wait for an answer."""
        return self.verdicts[Verdict.DOUBTFUL] - self.answered


def tally(batch: IntakeBatch) -> Tally:
    """Counts of a list, in one query."""
    verdicts, outcomes = dict.fromkeys(Verdict, 0), dict.fromkeys(TAKEN, 0)
    answered = writing = done = 0
    counted = batch.rows.order_by().values_list("verdict", "outcome").annotate(Count("id"), Count("taken_at"))
    for verdict, outcome, count, taken in counted:
        verdicts[Verdict(verdict)] += count
        done += taken
        if outcome:
            outcomes[Verdict(outcome)] += count
            answered += count if verdict == Verdict.DOUBTFUL else 0
            writing += count - taken if outcome != Verdict.KNOWN else 0
    return Tally(verdicts, outcomes, answered, writing, done)


class Recent(NamedTuple):
    """A list in the list of lists: its rows, and how many of them were taken or are left out so far."""

    batch: IntakeBatch
    rows: int
    left_out: int


def recent() -> list[Recent]:
    """The lists uploaded last, in one query."""
    counted = IntakeBatch.objects.select_related("source", "by", "confirmed_by").annotate(
        counted=Count("rows"), left=Count("rows", filter=Q(rows__outcome=""))
    )
    return [Recent(batch, batch.counted, batch.left) for batch in counted[:LISTED]]


def samples(batch: IntakeBatch) -> dict[str, str]:
    """Header -> what the first row that fills it says, for choosing columns by; "" where no early row does."""
    found = dict.fromkeys(batch.headers, "")
    for row in batch.rows.only("number", "cells")[:LISTED]:
        found |= {name: text[:SAMPLE] for name, text in texts_of(row, batch.headers).items() if found.get(name) == ""}
    return found


class CellProblem(NamedTuple):
    """What is wrong with one cell, or with the row as a whole where `column` is empty."""

    column: str
    cell: str
    sentences: tuple[str, ...]


class RowView(NamedTuple):
    """One row: who and what it says, what taking it does, what is in the way. `made`: code and finger of episodes."""

    number: int
    verdict: Verdict
    answered: bool
    who: str
    what: str
    effects: tuple[str, ...]
    problems: tuple[CellProblem, ...]
    notes: tuple[str, ...]
    made: tuple[tuple[str, str], ...]
    taken: bool


def row_views(rows: Iterable[IntakeRow], batch: IntakeBatch) -> list[RowView]:
    """The rows of one page, in one more query for the patients whom they are for."""
    read = [(row, match_of(row)) for row in rows]
    codes = {match.patient for _, match in read if match.patient}
    names = {row.code: str(row) for row in Patient.objects.filter(code__in=codes)} if codes else {}
    return [_view(row, match, batch, names) for row, match in read]


def match_of(row: IntakeRow) -> Match:
    return match_from_json(row.verdict, row.outcome, row.match)


def _view(row: IntakeRow, match: Match, batch: IntakeBatch, names: Mapping[str, str]) -> RowView:
    entry = entry_of_row(row)
    texts = texts_of(row, batch.headers)
    return RowView(
        number=row.number,
        verdict=match.verdict,
        answered=match.verdict == Verdict.DOUBTFUL and bool(row.outcome),
        who=say_who(entry) if entry else " · ".join(list(texts.values())[:FEW_CELLS]),
        what=say_what(entry) if entry else "",
        effects=tuple(_effects(row.number, match, names)),
        problems=by_cell(problems_of(row, match), texts),
        notes=tuple(note.message for note in match.notes),
        made=tuple((code, label(Digit(digit))) for digit, code in row.episodes.items()),
        taken=row.taken_at is not None,
    )


def by_cell(problems: Iterable[Problem], texts: Mapping[str, str]) -> tuple[CellProblem, ...]:
    """The problems of a row together with the cell that each is about."""
    found: dict[str, list[str]] = {}
    for problem in problems:
        found.setdefault(problem.column, []).append(_beside(texts.get(problem.column, ""), problem.message))
    return tuple(CellProblem(column, texts.get(column, ""), tuple(said)) for column, said in found.items())


def _beside(cell: str, message: str) -> str:
    """The message where its cell stands beside it: what repeats the cell in front is left away."""
    return message.removeprefix(quoted(cell)).lstrip(": ") if cell else message


def problems_of(row: IntakeRow, match: Match) -> tuple[Problem, ...]:
    return (*problems_from_json(row.problems), *match.remarks)


def _effects(number: int, match: Match, names: Mapping[str, str]) -> list[str]:
    """What taking a row does, in sentences; nothing where it cannot be taken as it stands."""
    if match.outcome is None:
        return []
    if match.outcome == Verdict.KNOWN:
        return ["On record already: nothing changes."]
    person = [say_change(*change) for change in match.person]
    opened = [say_opening(each.digit) for each in match.operations if not each.episode]
    changed = [say_change(*change) for each in match.operations for change in each.changes]
    return [_for_whom(number, match, names), *person, *opened, *changed]


def _for_whom(number: int, match: Match, names: Mapping[str, str]) -> str:
    if match.new_of is None:
        return f"For {names.get(match.patient, 'a patient')}, on record."
    return "Adds the patient." if match.new_of == number else f"For the new patient of row {match.new_of}."


def say_who(entry: Entry) -> str:
    value = entry.value
    born = f", born {say_date(value.born_on)}" if value.born_on else ""
    return f"{value.family.upper()}, {value.given}{born}"


def say_what(entry: Entry) -> str:
    value = entry.value
    fingers = " and ".join(label(digit) for digit in value.digits)
    return f"{label(value.side)} {fingers}, {say_date(value.surgery_on)}, {label(Suture(value.suture))}"


def left_out(batch: IntakeBatch) -> list[tuple[Mapping[str, str], str]]:
    """Cells by header and the reason, of every row that was not taken, or would not be."""
    return [
        (texts_of(row, batch.headers), reason(problems_of(row, match_of(row))) or NOT_ANSWERED)
        for row in batch.rows.filter(outcome="")
    ]


def why_left_out(batch: IntakeBatch) -> list[tuple[int, str, str]]:
    """Row number, column ("" for the row as a whole) and sentence, for each thing that keeps a row out."""
    said = []
    for row in batch.rows.filter(outcome=""):
        problems = problems_of(row, match_of(row)) or [None]
        said += [(row.number, each.column if each else "", each.message if each else NOT_ANSWERED) for each in problems]
    return said
