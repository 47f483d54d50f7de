"""Theatre lists taken into the caseload: a short one in one transaction, a long one as a job in portions.

What a confirmation writes is what was shown: each row is held against the record once more, and a row that would now do
something else is left out and said. A portion is written whole or not at all, and no row twice: a run that was killed
goes on with the first portion that was not written.
"""

from collections.abc import Callable, Collection, Iterator, Sequence
from datetime import date
from functools import partial
from typing import Final

from django.db import IntegrityError, transaction

from caseload.access import Act
from caseload.actions import jobs
from caseload.actions.act import By, act, trail
from caseload.actions.intake import JOB, leave_out, open_list
from caseload.actions.rewriting import rewrite
from caseload.actions.taking import Progress, Taken, Taking, take
from caseload.actions.turns import in_turn
from caseload.actions.waits import kept
from caseload.errors import Refusal
from caseload.models import IntakeBatch, IntakeRow, IntakeSource, Job, RuleSet, Verdict
from caseload.reads.intake_rows import entries_of
from caseload.reads.matching.listing import match_all
from caseload.reads.matching.match import Match, match_from_json
from caseload.reads.matching.on_record import on_record
from caseload.reads.matching.portions import portions

AT_ONCE: Final = 200
"""Rows that a request takes in; more are a job."""
PORTION: Final = 100
"""Rows that a job writes at once: on SQLite everybody else waits for that long."""
MOVED: Final = "The record changed since this list was shown: upload the row again and look at it."


def is_long(batch: IntakeBatch) -> bool:
    """Whether a list has more rows to be taken than are taken at once."""
    return batch.rows.filter(taken_at__isnull=True).exclude(outcome="").count() > AT_ONCE


def confirm(batch: IntakeBatch, *, by: By, version: int | None, progress: Progress | None = None) -> IntakeBatch:
    """Take every row in that can be taken, in one transaction; rows of which the record has moved are left out."""
    try:
        return _confirm(batch, by=by, version=version, progress=progress)
    except IntegrityError:
        # Somebody else's act and this transaction met in the middle; the constraints let only one of both stand.
        raise Refusal(
            "record-moved", "The record changed while the list was being written. Nothing was written: confirm again."
        ) from None


@act(Act.INTAKE_CONFIRM)
def _confirm(batch: IntakeBatch, *, by: By, version: int | None, progress: Progress | None) -> IntakeBatch:
    open_list(batch, version)
    _answered(batch)
    rules = _one_at_a_time()
    _take(batch, list(batch.rows.filter(entry__isnull=False)), by, rules, progress)
    _close(batch, by)
    return batch


@act(Act.INTAKE_CONFIRM)
def ask_confirm(batch: IntakeBatch, *, by: By, version: int | None) -> Job:
    """Ask for a long list to be taken in behind the pages. Until that is over nobody can change the list."""
    open_list(batch, version)
    _answered(batch)
    batch.version += 1
    batch.save(update_fields=["version"])
    trail(Act.INTAKE_CONFIRM, batch, by=by, patient_id=None, changed={"asked": ("", "yes")})
    return jobs.ask(JOB, by=by, batch=batch.code, on=by.today.isoformat())


def in_portions(batch: IntakeBatch, by: By, mark: Callable[..., None] = lambda **_: None) -> Iterator[tuple[int, int]]:
    """Take a list in, portion by portion; yields (rows done, rows in all) before each, and at the end. `mark` is told
    what is reached, in the transaction of each portion."""
    left = _portions(batch)
    of, done = sum(map(len, left)), 0
    for numbers in left:
        yield done, of
        with in_turn(), transaction.atomic():
            take_portion(batch, numbers, by)
            mark(row=numbers[-1])
        done += len(numbers)
    yield of, of
    with in_turn(), transaction.atomic():
        _close(batch, by)
        mark(closed=True)


@jobs.kind(JOB, leaves=lambda job: _stopped(job))
def run(job: Job) -> jobs.Steps:
    batch = _batch_of(job)
    yield from in_portions(batch, _by_of(job), partial(jobs.reach, job))
    return _said(batch)


def take_portion(batch: IntakeBatch, numbers: Sequence[int], by: By) -> None:
    """Write the rows of one portion, in a transaction of the caller's; those taken already are left as they are."""
    rules = _one_at_a_time()
    rows = list(batch.rows.filter(number__in=numbers, entry__isnull=False))
    with kept():
        _take(batch, rows, by, rules, None)


def _stopped(job: Job) -> str:
    """What was taken stays. The rest of the list is open again: to be taken in, or thrown away."""
    batch = _batch_of(job)
    if batch.confirmed_at:
        return _said(batch)
    taken = batch.rows.filter(taken_at__isnull=False).count()
    left = batch.rows.filter(taken_at__isnull=True).exclude(outcome="").count()
    return f"{taken} rows were taken in before it stopped. The other {left} can still be, or be thrown away."


def _take(batch: IntakeBatch, rows: Collection[IntakeRow], by: By, rules: RuleSet, progress: Progress | None) -> None:
    """Take those of some rows that are not taken yet and still do what was shown; the others are held against."""
    found = {row.number: row for row in rows}
    entries = entries_of(rows)
    record = on_record(entries, site=batch.site, digest=batch.digest)
    matches = match_all(entries, record, columns=batch.columns, today=by.today)
    open_ = [each for each in entries if found[each.number].taken_at is None]
    taken = [Taken(found[e.number], e, matches[e.number]) for e in open_ if _still(found[e.number], matches[e.number])]
    taking = Taking(batch, by, rules, record, progress or (lambda done, of: None))
    for number, why in take(taken, taking).items():
        leave_out(found[number], matches[number], why)
    held = [found[each.number] for each in open_]
    rewrite([row for row in held if row.taken_at], ["outcome", "patient", "episodes", "taken_at"])
    rewrite([row for row in held if not row.taken_at], ["verdict", "outcome", "match"])


def _portions(batch: IntakeBatch) -> list[list[int]]:
    """The portions in which there is still something to take."""
    rows = {row.number: row for row in batch.rows.filter(entry__isnull=False)}
    matches = {number: match_from_json(row.verdict, row.outcome, row.match) for number, row in rows.items()}
    cut = portions(entries_of(rows.values()), matches, PORTION)
    return [numbers for numbers in cut if any(rows[n].outcome and not rows[n].taken_at for n in numbers)]


def _one_at_a_time() -> RuleSet:
    """The rules that new episodes are pinned to, locked: lists are confirmed one after the other."""
    signed = RuleSet.objects.filter(signed_at__isnull=False, retired_at__isnull=True)
    return signed.select_for_update(no_key=True).order_by("-signed_at", "-id")[0]


def _answered(batch: IntakeBatch) -> None:
    if batch.question:
        raise Refusal("columns-unknown", batch.question)


def _still(row: IntakeRow, now: Match) -> bool:
    """Whether the row may be taken: it does what was shown, or there is nothing left to do."""
    if not row.outcome:
        return False
    shown = match_from_json(row.verdict, row.outcome, row.match)
    if now.effect == shown.effect or now.outcome == Verdict.KNOWN:
        row.outcome = now.outcome or ""
        return True
    leave_out(row, now, MOVED)
    return False


def _close(batch: IntakeBatch, by: By) -> None:
    closed = IntakeBatch.objects.filter(pk=batch.pk, confirmed_at__isnull=True)
    if not closed.update(confirmed_at=by.at, confirmed_by=by.staff, version=batch.version + 1):
        return
    batch.refresh_from_db()
    IntakeSource.objects.filter(pk=batch.source_id).update(
        columns=batch.columns, month_first=batch.month_first, used_at=by.at
    )
    counts = {f"rows {word}": (0, count) for word, count in _taken(batch).items()}
    trail(Act.INTAKE_CONFIRM, batch, by=by, patient_id=None, changed=counts)


def _taken(batch: IntakeBatch) -> dict[str, int]:
    outcomes = list(batch.rows.filter(taken_at__isnull=False).values_list("outcome", flat=True))
    return {word: outcomes.count(word) for word in (Verdict.NEW, Verdict.CHANGED, Verdict.KNOWN)}


def _said(batch: IntakeBatch) -> str:
    taken = _taken(batch)
    left = batch.rows.filter(taken_at__isnull=True).count()
    return f"{', '.join(f'{count} {word}' for word, count in taken.items())}; {left} left out."


def _batch_of(job: Job) -> IntakeBatch:
    return IntakeBatch.objects.select_related("source", "site", "by", "confirmed_by").get(code=job.asked["batch"])


def _by_of(job: Job) -> By:
    return By(job.by, job.created_at, date.fromisoformat(job.asked["on"]), origin=f"job {job.code}")
