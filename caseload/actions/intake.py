"""Theatre lists: uploaded, read, asked about, and then taken into the caseload in one transaction.

An upload writes nothing of the record. What a confirmation writes is what was shown: each row is held against the
record once more, and a row that would now do something else is left out and said.
"""

import hashlib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import PurePath
from typing import NamedTuple

from django.db import IntegrityError, transaction

from caseload.access import Act, demand
from caseload.actions.act import By, act, fresh, trail
from caseload.actions.rewriting import rewrite
from caseload.actions.taking import Progress, Taken, Taking, take
from caseload.errors import Refusal
from caseload.exchange.operated import Problem, Severity
from caseload.exchange.table import Row, Table, read_table
from caseload.exchange.theatre_list import TheatreList, read_theatre_list
from caseload.models import IntakeBatch, IntakeRow, IntakeSource, RuleSet, Site, Verdict
from caseload.parsing import tidy
from caseload.reads.intake_rows import cells_from_json, cells_to_json, entries_of
from caseload.reads.matching.entry import Decision, Entry, entry_of, identity, problems_as_json
from caseload.reads.matching.listing import match_all
from caseload.reads.matching.match import Match, match_from_json
from caseload.reads.matching.on_record import on_record

LONGEST = 10_000
"""Rows of one list: on SQLite everybody else waits while it is written, and may wait for 20 seconds."""
BATCH = 500
KEPT_UNCONFIRMED = timedelta(days=30)
KEPT_CELLS = timedelta(days=90)
DEFAULT_SOURCE = "Theatre list"
_ASKS = ("headers-missing", "headers-doubled", "columns-unknown")
"""Refusals that a choice of columns answers."""


class Meaning(NamedTuple):
    """How a list is to be read: field -> header, fields of dates written month first, the site of rows without one."""

    columns: Mapping[str, str]
    month_first: Collection[str]
    site: Site | None


def upload(
    data: bytes, *, file_name: str, by: By, source: str = DEFAULT_SOURCE, site: Site | None = None,
    columns: Mapping[str, str] | None = None,
) -> IntakeBatch:  # fmt: skip
    """Read a list and keep what it says, held against the record. Raises Refusal for a file that is no list.

    A list whose columns cannot be told is kept with the question; `remap` answers it.
    """
    demand(by.roles, Act.INTAKE_UPLOAD)
    table = read_table(data)
    if len(table.rows) > LONGEST:
        raise Refusal("too-many-rows", f"The list has {len(table.rows)} rows: split it into parts of {LONGEST}.")
    if not table.rows:
        raise Refusal("no-rows", "The list has headers and no rows: check that it was exported whole.")
    name = tidy(source)[:80] or DEFAULT_SOURCE
    remembered = IntakeSource.objects.filter(name=name).first()
    meaning = Meaning(
        columns or _still_there(remembered, table.headers), remembered.month_first if remembered else (), site
    )
    batch = IntakeBatch(
        source=remembered or IntakeSource(name=name, used_at=by.at),
        site=site,
        file_name=tidy(PurePath(file_name).name)[-200:] or "list",
        workbook=data.startswith(b"PK"),
        digest=hashlib.sha256(data).hexdigest(),
        headers=list(table.headers),
        by=by.staff,
        uploaded_at=by.at,
        uploaded_on=by.today,
    )
    rows = _read(batch, table, meaning, by.today)
    return _keep(batch, rows, by=by)


def _still_there(source: IntakeSource | None, headers: Sequence[str]) -> Mapping[str, str]:
    known = source.columns if source else {}
    return {field: header for field, header in known.items() if header == "" or header in headers}


@act(Act.INTAKE_UPLOAD)
def _keep(batch: IntakeBatch, rows: list[IntakeRow], *, by: By) -> IntakeBatch:
    batch.source, _ = IntakeSource.objects.update_or_create(
        name=batch.source.name, defaults={"used_at": by.at}, create_defaults={"used_at": by.at}
    )
    batch.save()
    IntakeRow.objects.bulk_create(rows, batch_size=BATCH)
    trail(Act.INTAKE_UPLOAD, batch, by=by, patient_id=None, changed={"rows": (0, len(rows))})
    return batch


def _read(batch: IntakeBatch, table: Table, meaning: Meaning, today: date) -> list[IntakeRow]:
    """The rows of a list under one meaning of its columns; none is understood where a question is left."""
    batch.question = ""
    try:
        read = read_theatre_list(table, today=today, columns=meaning.columns, month_first=meaning.month_first)
    except Refusal as refusal:
        if refusal.code not in _ASKS:
            raise
        batch.question, batch.columns, batch.month_first = refusal.message[:1000], {}, []
        return [_row(batch, row, {"verdict": Verdict.REFUSED}) for row in table.rows]
    batch.columns, batch.month_first, batch.site = dict(read.columns), list(meaning.month_first), meaning.site
    return _understood(batch, table, read, today)


def _understood(batch: IntakeBatch, table: Table, read: TheatreList, today: date) -> list[IntakeRow]:
    entries = [entry for row in read.rows if (entry := entry_of(row, read.columns))]
    said = {entry.number: entry for entry in entries}
    matches = _matches(batch, entries, today)
    problems = {row.number: row.problems for row in read.rows}
    return [
        _row(batch, row, {"problems": problems_as_json(problems[row.number])} | _answer(said, matches, row.number))
        for row in table.rows
    ]


def _answer(said: Mapping[int, Entry], matches: Mapping[int, Match], number: int) -> dict[str, object]:
    if number not in said:
        return {"verdict": Verdict.REFUSED}
    found, entry = matches[number], said[number]
    return {"entry": entry.as_json(), "identity": identity(entry.key)} | _columns_of(found)


def _columns_of(found: Match) -> dict[str, object]:
    return {"verdict": found.verdict, "outcome": found.outcome or "", "match": found.as_json()}


def _row(batch: IntakeBatch, row: Row, answer: dict[str, object]) -> IntakeRow:
    return IntakeRow(batch=batch, number=row.number, cells=cells_to_json((*row.cells, *row.beyond)), **answer)


def _matches(batch: IntakeBatch, entries: Sequence[Entry], today: date) -> dict[int, Match]:
    record = on_record(entries, site=batch.site, digest=batch.digest)
    return match_all(entries, record, columns=batch.columns, today=today)


@act(Act.INTAKE_UPLOAD)
def remap(batch: IntakeBatch, *, by: By, version: int | None, meaning: Meaning) -> IntakeBatch:
    """Read the rows again under another meaning of the columns, and remember it for the source.

    Decisions made so far are dropped. Raises Refusal where the choice still leaves a question.
    """
    _open(batch, version)
    width = len(batch.headers)
    cells = {row.number: cells_from_json(row.cells) for row in batch.rows.only("number", "cells")}
    rows = tuple(Row(number, each[:width], each[width:]) for number, each in cells.items())
    fresh_rows = _read(batch, Table(tuple(batch.headers), rows), meaning, by.today)
    if batch.question:
        raise Refusal("columns-unknown", batch.question)
    batch.rows.all().delete()
    batch.version += 1
    batch.save()
    IntakeRow.objects.bulk_create(fresh_rows, batch_size=BATCH)
    said = {"columns": dict(meaning.columns), "month_first": list(meaning.month_first)}
    IntakeSource.objects.filter(pk=batch.source_id).update(**said)
    trail(Act.INTAKE_UPLOAD, batch, by=by, patient_id=None, changed={"columns": ("", "chosen")})
    return batch


@act(Act.INTAKE_UPLOAD)
def decide(batch: IntakeBatch, *, by: By, version: int | None, decisions: Mapping[int, Decision]) -> IntakeBatch:
    """Keep what somebody answered to doubtful rows, by their numbers; all rows are held against the record anew."""
    _open(batch, version)
    rows = {row.number: row for row in batch.rows.all()}
    for number, decision in decisions.items():
        if number in rows:
            rows[number].decision = decision.as_json()
    for number, found in _matches(batch, entries_of(rows.values()), by.today).items():
        for name, value in _columns_of(found).items():
            setattr(rows[number], name, value)
    rewrite(list(rows.values()), ["decision", "verdict", "outcome", "match"])
    batch.version += 1
    batch.save(update_fields=["version"])
    trail(Act.INTAKE_UPLOAD, batch, by=by, patient_id=None, changed={"rows decided": (0, len(decisions))})
    return batch


def accept_doubtful(batch: IntakeBatch, *, by: By) -> IntakeBatch:
    """Take as read every doubtful row that leaves no choice between people or operations."""
    plain = batch.rows.filter(verdict=Verdict.DOUBTFUL, outcome="")
    found = (match_from_json(row.verdict, row.outcome, row.match) for row in plain)
    numbers = [row.number for row, match in zip(plain, found, strict=True) if not (match.people or match.episodes)]
    return decide(batch, by=by, version=None, decisions=dict.fromkeys(numbers, Decision(read=True)))


@act(Act.INTAKE_UPLOAD)
def discard(batch: IntakeBatch, *, by: By) -> None:
    """Throw an unconfirmed upload away."""
    _open(batch, None)
    trail(Act.INTAKE_UPLOAD, batch, by=by, patient_id=None, changed={"thrown away": ("", "yes")})
    batch.delete()


def _open(batch: IntakeBatch, version: int | None) -> None:
    fresh(batch, version)
    batch.refresh_from_db()
    if batch.confirmed_at:
        who = f" by {batch.confirmed_by}" if batch.confirmed_by else ""
        raise Refusal("confirmed-already", f"This list was taken in already{who}. Nothing was written a second time.")


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
    _open(batch, version)
    if batch.question:
        raise Refusal("columns-unknown", batch.question)
    rules = _one_at_a_time()
    rows = {row.number: row for row in batch.rows.filter(entry__isnull=False)}
    entries = entries_of(rows.values())
    record = on_record(entries, site=batch.site, digest=batch.digest)
    matches = match_all(entries, record, columns=batch.columns, today=by.today)
    taken = [Taken(rows[e.number], e, matches[e.number]) for e in entries if _still(rows[e.number], matches[e.number])]
    taking = Taking(batch, by, rules, record, progress or (lambda done, of: None))
    for number, why in take(taken, taking).items():
        _leave_out(rows[number], matches[number], why)
    rewrite([row for row in rows.values() if row.taken_at], ["outcome", "patient", "episodes", "taken_at"])
    rewrite([row for row in rows.values() if not row.taken_at], ["verdict", "outcome", "match"])
    _close(batch, rows.values(), by)
    return batch


def _one_at_a_time() -> RuleSet:
    """The rules that new episodes are pinned to, locked: lists are confirmed one after the other."""
    signed = RuleSet.objects.filter(signed_at__isnull=False, retired_at__isnull=True)
    return signed.select_for_update(no_key=True).order_by("-signed_at", "-id")[0]


def _still(row: IntakeRow, now: Match) -> bool:
    """Whether the row may be taken: it does what was shown, or there is nothing left to do."""
    if not row.outcome:
        return False
    shown = match_from_json(row.verdict, row.outcome, row.match)
    if now.effect == shown.effect or now.outcome == Verdict.KNOWN:
        row.outcome = now.outcome or ""
        return True
    _leave_out(row, now, "The record changed since this list was shown: upload the row again and look at it.")
    return False


def _leave_out(row: IntakeRow, now: Match, why: str) -> None:
    moved = Problem("", "moved-meanwhile", why, Severity.DOUBTFUL)
    verdict = now.verdict if now.verdict == Verdict.REFUSED else Verdict.DOUBTFUL
    left = replace(now, verdict=verdict, outcome=None, remarks=(*now.remarks, moved))
    row.verdict, row.outcome, row.match = verdict, "", left.as_json()


def _close(batch: IntakeBatch, rows: Collection[IntakeRow], by: By) -> None:
    IntakeBatch.objects.filter(pk=batch.pk).update(confirmed_at=by.at, confirmed_by=by.staff, version=batch.version + 1)
    batch.refresh_from_db()
    IntakeSource.objects.filter(pk=batch.source_id).update(
        columns=batch.columns, month_first=batch.month_first, used_at=by.at
    )
    counts = {f"rows {word}": (0, sum(row.outcome == word for row in rows)) for word in ("new", "changed", "known")}
    trail(Act.INTAKE_CONFIRM, batch, by=by, patient_id=None, changed=counts)


@transaction.atomic
def forget_old_uploads(now: datetime) -> None:
    """Drop uploads that nobody confirmed for 30 days, and the cells of those confirmed 90 days ago.

    What stays of a confirmed row is what it made, so that the same list again is still known.
    """
    IntakeBatch.objects.filter(confirmed_at__isnull=True, uploaded_at__lt=now - KEPT_UNCONFIRMED).delete()
    old = IntakeBatch.objects.filter(confirmed_at__lt=now - KEPT_CELLS, forgotten_at__isnull=True)
    rows = IntakeRow.objects.filter(batch__in=old)
    rows.filter(taken_at__isnull=True).update(identity="")
    rows.update(cells=[], entry=None, problems=[], match={}, decision={})
    old.update(forgotten_at=now)
