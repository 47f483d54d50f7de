"""What others recorded of a digit or an appointment while somebody was typing, in words."""

from collections.abc import Iterator
from datetime import datetime
from typing import NamedTuple

from caseload.measures.bodies import read
from caseload.measures.terms import MeasureKind
from caseload.models import Appointment, Episode, Examined, Finding, Instruction, Measurement, TrailEntry
from caseload.reads.history import tell
from caseload.reads.marks import Seen, since
from caseload.timetable.terms import ActivityKind, AfterVisit, Digit
from caseload.wording import label, say_date
from caseload.wording.measures import say_measured
from caseload.wording.record import say_found, say_instruction


class Recorded(NamedTuple):
    """One thing, who recorded it, and when."""

    what: str
    by: str
    at: datetime


def of_episode(episode: Episode, seen: Seen) -> list[Recorded]:
    """Everything after `seen`, in the order of recording."""
    after = since(episode, seen)
    said = [_finding(row) for row in after.findings] + [_instruction(row) for row in after.instructions]
    said += [_examined(row) for row in _visits(episode, seen)]
    said += _changes(episode, episode.version - seen.version) if after.corrected else []
    return sorted(said, key=lambda row: row.at)


def of_appointment(appointment: Appointment, version: int) -> list[Recorded]:
    """What became of an appointment after this version of it."""
    return list(_changes(appointment, appointment.version - version))


def _finding(row: Finding) -> Recorded:
    said = ": ".join(filter(None, [say_found(row), row.note]))
    if row.withdraws:
        said = f"withdrawn: {said}"
    elif row.corrects_id:
        said = f"corrected to: {said}"
    return Recorded(f"{said} ({say_date(row.on)})", row.by.name, row.recorded_at)


def _instruction(row: Instruction) -> Recorded:
    return Recorded(f"Instruction: {say_instruction(row)}", row.recorded_by.name, row.recorded_at)


def _visits(episode: Episode, seen: Seen) -> list[Examined]:
    rows = Examined.objects.filter(episode=episode, pk__gt=seen.examined)
    return list(rows.select_related("visit__by", "episode"))


def _examined(row: Examined) -> Recorded:
    """A visit with all that it says beside its findings: whoever typed at the same time writes none of it twice."""
    visit = row.visit
    said = [f"Visit of {say_date(visit.on)}; next step: {label(AfterVisit(row.after))}"]
    said += [f"begun: {label(ActivityKind(kind))}" for kind in row.started]
    said += [_measured(each, row.episode) for each in visit.measurements.standing().filter(episode=row.episode)]
    said += [f"{name}: {text}" for name, text in (("taught", visit.taught), ("note", visit.note)) if text]
    return Recorded("; ".join(said), visit.by.name, visit.recorded_at)


def _measured(row: Measurement, episode: Episode) -> str:
    return say_measured(read(MeasureKind(row.kind), row.body), Digit(episode.digit) if episode.digit else None)


def _changes(row: Episode | Appointment, versions: int) -> Iterator[Recorded]:
    """The last changes of a row from its trail: one for each version that it rose by."""
    entries = TrailEntry.objects.filter(subject=row._meta.model_name, subject_id=row.pk).select_related("by")
    for told in tell(reversed(entries.order_by("-pk")[: max(1, versions)])):
        yield Recorded(": ".join(filter(None, [told.what.capitalize(), "; ".join(told.moved)])), told.by, told.at)
