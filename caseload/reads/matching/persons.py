"""Whose row it is: settled by a number, by an earlier answer, or by name, birth date and one thing more; else asked."""

from collections.abc import Mapping
from typing import NamedTuple

from caseload.exchange.likeness import Likeness, Verdict, likeness
from caseload.exchange.operated import Problem, Severity
from caseload.models import Episode
from caseload.parsing import in_words
from caseload.reads.matching.entry import NEW, Entry, identity
from caseload.reads.matching.match import Note
from caseload.reads.matching.on_record import Known, OnRecord


class Whose(NamedTuple):
    """`known` is None for somebody new. `people` may be chosen among where it is in doubt; `settled` says it is not."""

    known: Known | None
    settled: bool = True
    doubts: tuple[Problem, ...] = ()
    people: tuple[str, ...] = ()
    notes: tuple[Note, ...] = ()


def whose(entry: Entry, record: OnRecord, columns: Mapping[str, str]) -> Whose:
    """The patient on record whose row this is, or nobody yet, or a question."""
    if answered := _answered(entry, record):
        return Whose(answered)
    alike = [(known, likeness(entry.key, known.key)) for known in record.candidates(entry.key)]
    notes = tuple(_namesake(known) for known, found in alike if _only_name(entry, known, found))
    alike = [(known, found) for known, found in alike if found.verdict is not Verdict.DIFFERENT]
    if not alike:
        return Whose(None, notes=notes)
    sure = [known for known, found in alike if found.verdict is Verdict.SAME and _more(entry, known, record)]
    sharing = [known for known, _ in alike if known.key.numbers & entry.key.numbers]
    if len(sure) == 1 and all(known is sure[0] for known in sharing):
        return Whose(sure[0], notes=notes)
    return _asked(entry, alike, bool(sharing), columns)._replace(notes=notes)


def _answered(entry: Entry, record: OnRecord) -> Known | None:
    """Whom an earlier list meant by the same names and numbers; without a number, only for the same operation."""
    found = record.by_identity.get(identity(entry.key), ())
    meant = [record.known[pk] for pk in found if entry.key.numbers or _same_operation(entry, record, pk)]
    return meant[0] if len(meant) == 1 else None


def _same_operation(entry: Entry, record: OnRecord, pk: int) -> bool:
    earlier = (row.entry for row in record.earlier.get(pk, ()) if row.identity == identity(entry.key))
    said = any(row and operation_of(row) & operation_of(entry) for row in earlier)
    return said or any(_meets(entry, episode) for episode in record.episodes.get(pk, ()))


def operation_of(entry: Entry) -> set[tuple[object, ...]]:
    value = entry.value
    return {(value.side, digit, value.surgery_on) for digit in value.digits}


def _meets(entry: Entry, episode: Episode) -> bool:
    return (episode.side, episode.digit, episode.surgery_on) in operation_of(entry)


def _more(entry: Entry, known: Known, record: OnRecord) -> bool:
    """One thing beyond name and birth date: a number, the telephone, or the very operation."""
    phone = entry.value.phone
    same_phone = phone is not None and phone.value == known.patient.phone_key
    met = any(_meets(entry, episode) for episode in record.episodes.get(known.patient.pk, ()))
    return bool(entry.key.numbers & known.key.numbers) or same_phone or met


def _only_name(entry: Entry, known: Known, found: Likeness) -> bool:
    return found.verdict is Verdict.DIFFERENT and entry.key.name == known.key.name


def _namesake(known: Known) -> Note:
    born = f"born {in_words(known.patient.born_on)}" if known.patient.born_on else "birth date not known"
    return Note("", f"Somebody else of this name is on record, {born}: mind the birth date.")


def _asked(entry: Entry, alike: list[tuple[Known, Likeness]], shared: bool, columns: Mapping[str, str]) -> Whose:
    """A question; somebody else can be added only where no number of the row is taken."""
    people = tuple(known.patient.code for known, _ in alike) + (() if shared else (NEW,))
    doubts = tuple(_doubt(entry, known, found, columns) for known, found in alike)
    if entry.decision.person in people:
        chosen = next((known for known, _ in alike if known.patient.code == entry.decision.person), None)
        return Whose(chosen, doubts=doubts, people=people)
    return Whose(None, settled=False, doubts=doubts, people=people)


def _doubt(entry: Entry, known: Known, found: Likeness, columns: Mapping[str, str]) -> Problem:
    shared = entry.key.numbers & known.key.numbers
    reason = found.reason
    if found.verdict is Verdict.SAME and not shared:
        reason = f"{reason}, and nothing more that settles it"
    remedy = "say whether this is the same person" if not shared else "if it is not the same person, correct the number"
    column = _column(columns, *(scheme.replace("-", "_") for scheme, _ in sorted(shared)), "family", "name")
    return Problem(column, "person-on-record", f"{known.patient} on record has {reason}: {remedy}.", Severity.DOUBTFUL)


def _column(columns: Mapping[str, str], *fields: str) -> str:
    return next((columns[field] for field in fields if field in columns), "")
