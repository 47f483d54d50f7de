"""An uploaded theatre list as its pages show it: counts, rows with what each would do, and the choices it leaves."""

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from django.db.models import Count, QuerySet

from caseload.exchange.operated import Problem
from caseload.exchange.refused_rows import reason
from caseload.models import Episode, IntakeBatch, IntakeRow, Patient, Verdict
from caseload.reads.intake_rows import texts_of
from caseload.reads.matching.entry import NEW, Decision, Entry, entry_from_json, problems_from_json
from caseload.reads.matching.match import Match, match_from_json
from caseload.timetable.terms import Suture
from caseload.wording import label, say_date
from caseload.wording.intake import say_change, say_opening

FEW_CELLS = 6
"""Cells of a row that could not be read that are enough to recognise it."""


class Choice(NamedTuple):
    """`value` is a code or NEW; `text` says whom or what it is."""

    value: str
    text: str


class RowView(NamedTuple):
    """One row: who and what it says, what it would do, what is in the way, and what somebody may choose."""

    number: int
    verdict: Verdict
    decided: bool
    who: str
    what: str
    effects: tuple[str, ...]
    problems: tuple[Problem, ...]
    notes: tuple[str, ...]
    people: tuple[Choice, ...]
    operations: tuple[Choice, ...]
    decision: Decision
    made: tuple[str, ...]

    @property
    def asks(self) -> bool:
        return self.verdict == Verdict.DOUBTFUL

    @property
    def plain(self) -> bool:
        """A doubt with nobody to choose: the row is taken as read, or not."""
        return self.asks and not self.people and not self.operations


class Tally(NamedTuple):
    """Rows by verdict, and how many will be taken now."""

    verdicts: dict[Verdict, int]
    taking: int
    changing: int

    @property
    def rows(self) -> int:
        return sum(self.verdicts.values())


def tally(batch: IntakeBatch) -> Tally:
    """Counts of a list, in one query. `changing` are the rows that would write something."""
    verdicts, taking, changing = dict.fromkeys(Verdict, 0), 0, 0
    for verdict, outcome, count in batch.rows.order_by().values_list("verdict", "outcome").annotate(Count("id")):
        verdicts[Verdict(verdict)] += count
        taking += count if outcome else 0
        changing += count if outcome in (Verdict.NEW, Verdict.CHANGED) else 0
    return Tally(verdicts, taking, changing)


def row_views(rows: Iterable[IntakeRow], batch: IntakeBatch) -> list[RowView]:
    """The rows of one page, in two more queries for those whom they may be."""
    read = [(row, match_from_json(row.verdict, row.outcome, row.match)) for row in rows]
    people = _people(match for _, match in read)
    operations = _operations(match for _, match in read)
    return [_view(row, match, batch, people, operations) for row, match in read]


def refused(batch: IntakeBatch) -> list[tuple[Mapping[str, str], str]]:
    """Cells by header and the reason, of every row that was not taken, or would not be."""
    rows = batch.rows.filter(outcome="")
    return [(texts_of(row, batch.headers), reason(_problems(row)) or NOT_ANSWERED) for row in rows]


NOT_ANSWERED = "Left out: it was doubtful, and nobody answered."


def said_of_refused(batch: IntakeBatch) -> list[tuple[int, Problem]]:
    """Row number and problem, for each thing that keeps a row from being taken."""
    rows: QuerySet[IntakeRow] = batch.rows.filter(outcome="")
    return [(row.number, problem) for row in rows for problem in _problems(row)]


def _problems(row: IntakeRow) -> tuple[Problem, ...]:
    return (*problems_from_json(row.problems), *match_from_json(row.verdict, row.outcome, row.match).remarks)


def _view(
    row: IntakeRow, match: Match, batch: IntakeBatch, people: Mapping[str, str], operations: Mapping[str, str]
) -> RowView:
    entry = entry_from_json(row.number, row.entry, row.problems, row.decision) if row.entry else None
    return RowView(
        number=row.number,
        verdict=match.verdict,
        decided=bool(row.outcome),
        who=_who(entry) if entry else _cells(row, batch),
        what=_what(entry) if entry else "",
        effects=tuple(effects(match)),
        problems=_problems(row),
        notes=tuple(note.message for note in match.notes),
        people=tuple(Choice(code, people.get(code, "somebody else, not on record yet")) for code in match.people),
        operations=tuple(Choice(code, operations.get(code, "another operation")) for code in match.episodes),
        decision=Decision.from_json(row.decision),
        made=tuple(row.episodes.values()) if row.taken_at else (),
    )


def effects(match: Match) -> list[str]:
    """What taking a row does, in sentences; what it waits for where it cannot be taken yet."""
    if match.verdict == Verdict.REFUSED:
        return ["Cannot be taken; it goes into the file of refused rows."]
    if match.outcome is None:
        return ["Waits for an answer."]
    if match.outcome == Verdict.KNOWN:
        return ["On record already; nothing changes."]
    person = [say_change(*change) for change in match.person] if match.patient else ["Adds the patient."]
    opened = [say_opening(each.digit) for each in match.operations if not each.episode]
    return person + opened + [say_change(*change) for each in match.operations for change in each.changes]


def _who(entry: Entry) -> str:
    value = entry.value
    born = f", born {say_date(value.born_on)}" if value.born_on else ""
    return f"{value.family.upper()}, {value.given}{born}"


def _what(entry: Entry) -> str:
    value = entry.value
    fingers = " and ".join(label(digit) for digit in value.digits)
    return f"{label(value.side)} {fingers}, {say_date(value.surgery_on)}, {label(Suture(value.suture))}"


def _cells(row: IntakeRow, batch: IntakeBatch) -> str:
    return " · ".join(list(texts_of(row, batch.headers).values())[:FEW_CELLS])


def _people(matches: Iterable[Match]) -> dict[str, str]:
    codes = {code for match in matches for code in match.people if code != NEW}
    known = Patient.objects.filter(code__in=codes).prefetch_related("identifiers") if codes else []
    return {patient.code: _patient(patient) for patient in known}


def _patient(patient: Patient) -> str:
    born = f", born {say_date(patient.born_on)}" if patient.born_on else ""
    numbers = "".join(f", {number.value}" for number in patient.identifiers.all())
    return f"{patient}{born}{numbers}"


def _operations(matches: Iterable[Match]) -> dict[str, str]:
    codes = {code for match in matches for code in match.episodes if code != NEW}
    known = Episode.objects.filter(code__in=codes) if codes else []
    return {episode.code: _episode(episode) for episode in known}


def _episode(episode: Episode) -> str:
    day = say_date(episode.surgery_on) if episode.surgery_on else "no surgery date"
    return f"corrects the one on record: {episode}, {day}"
