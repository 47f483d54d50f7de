"""Day lines: what the picture of an episode shows, as day numbers from its surgery; day 0 is the day of surgery.

For a list, lines are made from stored rows, in two queries however many there are; for one episode from its timetable.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from typing import Any, NamedTuple, cast

from django.db.models import QuerySet

from caseload.models import FollowUp as FollowUpRow
from caseload.models import State
from caseload.reads.findings import Findings, standing_findings
from caseload.reads.prepared import Prepared
from caseload.timetable import facts
from caseload.timetable.evidence import Evidence, read_evidence
from caseload.timetable.plan import FollowUp, Timetable
from caseload.timetable.standing import status
from caseload.timetable.terms import FindingKind, FollowUpKind, Lock, Status, Suture

UNTIL = 90
"""The last day that the ruler shows; what lies beyond is drawn at its end."""


class Span(NamedTuple):
    """The window of a follow-up, as the days on which it begins and ends, both inside it."""

    key: str
    kind: FollowUpKind
    status: Status
    earliest: int
    latest: int
    booked: int | None = None
    proposed: int | None = None
    done: int | None = None
    provisional: bool = False


class Gate(NamedTuple):
    """A finding that activities wait for: on which day it was found, or, while it is shut, may be expected."""

    lock: Lock
    day: int
    is_open: bool


class Tick(NamedTuple):
    kind: FindingKind
    day: int


class Line(NamedTuple):
    """`today` is the number of today, which may lie before the surgery or beyond the ruler."""

    surgery_on: date
    today: int
    spans: tuple[Span, ...] = ()
    gates: tuple[Gate, ...] = ()
    ticks: tuple[Tick, ...] = ()

    def on(self, day: int) -> date:
        return self.surgery_on + timedelta(days=day)


class Subject(NamedTuple):
    """What a line needs to know of an episode beside its follow-ups and findings."""

    id: int
    surgery_on: date | None
    suture: str
    stitches_in: int | None


class Stored(NamedTuple):
    """A follow-up as its row tells it."""

    episode_id: int
    key: str
    kind: str
    earliest_on: date
    latest_on: date
    proposed_on: date | None
    booked_on: date | None
    done_on: date | None
    provisional: bool
    minutes: int

    @property
    def dropped(self) -> bool:
        return False  # such rows are not read

    def status(self, today: date) -> Status:
        return status(cast(FollowUp, self), today)


class Drawn(NamedTuple):
    """The lines of some episodes by id, with the rows that they were made from."""

    lines: dict[int, Line]
    follow_ups: dict[int, list[Stored]]
    findings: Findings
    evidence: dict[int, Evidence]


def lines_of(subjects: Iterable[Subject], today: date, findings: Findings | None = None) -> Drawn:
    """The day line of each episode that has a surgery date; `findings` where they have been read already."""
    subjects = list(subjects)
    ids = [subject.id for subject in subjects]
    findings = standing_findings(ids) if findings is None else findings
    return lines_from(subjects, today, stored_follow_ups(ids), findings)


def lines_from(
    subjects: Iterable[Subject], today: date, follow_ups: dict[int, list[Stored]], findings: Findings
) -> Drawn:
    """The same from rows that have been read already."""
    subjects = list(subjects)
    evidence = {subject.id: _evidence(subject, follow_ups[subject.id], findings[subject.id]) for subject in subjects}
    lines = {
        subject.id: _line(subject.surgery_on, follow_ups[subject.id], findings[subject.id], evidence[subject.id], today)
        for subject in subjects
        if subject.surgery_on
    }
    return Drawn(lines, follow_ups, findings, evidence)


def stored_follow_ups(episodes: Iterable[int]) -> dict[int, list[Stored]]:
    found: dict[int, list[Stored]] = defaultdict(list)
    for row in _FOLLOW_UPS(list(episodes)):
        found[row[0]].append(Stored(*row))
    return found


def _follow_ups(episodes: Sequence[int]) -> QuerySet[FollowUpRow, Any]:
    rows = FollowUpRow.objects.filter(episode__in=episodes).exclude(state=State.DROPPED).order_by()
    return rows.values_list(*Stored._fields)


_FOLLOW_UPS = Prepared(_follow_ups)


def _evidence(subject: Subject, follow_ups: Iterable[Stored], findings: tuple[facts.Finding, ...]) -> Evidence:
    """What is proven. A stitches-out follow-up whatever the suture means that the surgeon ordered a removal."""
    ordered = any(row.kind == FollowUpKind.STITCHES_OUT for row in follow_ups)
    order = (facts.Instruction(FollowUpKind.STITCHES_OUT, "", ""),) if ordered else ()
    suture = Suture(subject.suture)
    return read_evidence(
        facts.EpisodeFacts(suture=suture, stitches_in=subject.stitches_in, findings=findings, instructions=order)
    )


def _line(
    surgery_on: date, rows: Iterable[Stored], findings: Iterable[facts.Finding], evidence: Evidence, today: date
) -> Line:
    def day(on: date | None) -> int | None:
        return None if on is None else (on - surgery_on).days

    def number(on: date) -> int:
        return (on - surgery_on).days

    spans = tuple(
        Span(
            row.key, FollowUpKind(row.kind), row.status(today), number(row.earliest_on), number(row.latest_on),
            day(row.booked_on), day(row.proposed_on), day(row.done_on), row.provisional,
        )
        for row in rows
    )  # fmt: skip
    spans = tuple(sorted(spans, key=lambda span: (span.earliest, span.key)))
    ticks = tuple(Tick(finding.kind, number(finding.on)) for finding in findings)
    return Line(surgery_on, number(today), spans, _gates(surgery_on, spans, evidence), ticks)


def _gates(surgery_on: date, spans: tuple[Span, ...], evidence: Evidence) -> tuple[Gate, ...]:
    """The gates of an episode. A shut one stands where its finding may be expected: at the check that looks for it."""
    gates = []
    if evidence.to_remove:
        is_out = evidence.removal is not None and evidence.removal_counts
        day = (evidence.removal.on - surgery_on).days if is_out and evidence.removal else _expected(spans, _STITCHES)
        gates.append(Gate(Lock.STITCHES_OUT, day, is_out))
    shut_on = evidence.unclosed.on if evidence.unclosed else None
    found_on = evidence.closed.on if evidence.closed else shut_on
    day = (found_on - surgery_on).days if found_on else _expected(spans, _STITCHES | _WOUND)
    gates.append(Gate(Lock.WOUND_CLOSED, day, evidence.closed is not None))
    if evidence.trim:
        gates.append(Gate(Lock.TRIMMED, (evidence.trim.on - surgery_on).days, False))
    return tuple(gates)


_STITCHES = frozenset({FollowUpKind.STITCHES_OUT, FollowUpKind.STITCHES_RECHECK})
_WOUND = frozenset({FollowUpKind.WOUND_CHECK, FollowUpKind.WOUND_RECHECK})
USUAL = 14
"""Where a shut gate stands when no check is to come that would look for it (common practice: two weeks)."""


def _expected(spans: Iterable[Span], kinds: frozenset[FollowUpKind]) -> int:
    """The day of the first check to come that looks for a finding."""
    due = [span for span in spans if span.kind in kinds and span.done is None]
    days = [(span.booked, span.proposed, span.latest) for span in due]
    return min((next(day for day in each if day is not None) for each in days), default=USUAL)


def line_of(timetable: Timetable, found: facts.EpisodeFacts, today: date) -> Line | None:
    """The day line of one episode, from its timetable; None without a surgery date."""
    if timetable.surgery_on is None:
        return None
    rows = [
        Stored(
            0, row.key, row.kind, row.earliest_on, row.latest_on, row.proposed_on, row.booked_on,
            row.done_on, row.provisional, row.minutes,
        )
        for row in timetable.follow_ups
        if not row.dropped
    ]  # fmt: skip
    return _line(timetable.surgery_on, rows, found.findings, read_evidence(found), today)
