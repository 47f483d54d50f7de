"""Theatre lists: uploaded, read, asked about, thrown away. Nothing here writes to the record (`actions.confirming`)."""

import hashlib
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import PurePath
from typing import NamedTuple

from django.db import transaction

from caseload.access import Act, demand
from caseload.actions.act import By, act, fresh, trail
from caseload.actions.rewriting import insert, rewrite
from caseload.errors import Refusal
from caseload.exchange.operated import Problem, Severity
from caseload.exchange.table import Row, Table, read_table
from caseload.exchange.theatre_list import TheatreList, read_theatre_list
from caseload.models import IntakeBatch, IntakeRow, IntakeSource, Job, Site, Verdict
from caseload.parsing import tidy
from caseload.reads.intake_rows import cells_from_json, cells_to_json, entries_of
from caseload.reads.matching.entry import Decision, Entry, entry_of, identity, problems_as_json
from caseload.reads.matching.listing import match_all
from caseload.reads.matching.match import Match, match_from_json
from caseload.reads.matching.on_record import on_record

LONGEST = 10_000
"""Rows of one list."""
JOB = "intake"
KEPT_UNCONFIRMED = timedelta(days=30)
KEPT_CELLS = timedelta(days=90)
DEFAULT_SOURCE = "Theatre list"
THROWN_AWAY = "The rest of the list was thrown away after a part of it was taken in."
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
    return keep(*read(data, file_name=file_name, by=by, source=source, site=site, columns=columns), by=by)


def read(
    data: bytes, *, file_name: str, by: By, source: str, site: Site | None, columns: Mapping[str, str] | None = None
) -> tuple[IntakeBatch, list[IntakeRow]]:
    """The same without keeping it: nothing is written, so nobody waits for it."""
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
        other_sheets=list(table.other_sheets),
        by=by.staff,
        uploaded_at=by.at,
        uploaded_on=by.today,
    )
    return batch, _read(batch, table, meaning, by.today)


def _still_there(source: IntakeSource | None, headers: Sequence[str]) -> Mapping[str, str]:
    known = source.columns if source else {}
    return {field: header for field, header in known.items() if header == "" or header in headers}


@act(Act.INTAKE_UPLOAD)
def keep(batch: IntakeBatch, rows: list[IntakeRow], *, by: By) -> IntakeBatch:
    batch.source, _ = IntakeSource.objects.update_or_create(
        name=batch.source.name, defaults={"used_at": by.at}, create_defaults={"used_at": by.at}
    )
    batch.save()
    for row in rows:
        row.batch = batch
    insert(rows)
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


def remap(batch: IntakeBatch, *, by: By, version: int | None, meaning: Meaning) -> IntakeBatch:
    """Read the rows again under another meaning of the columns, and remember it for the source.

    Decisions made so far are dropped. Nobody waits while it reads. Raises Refusal where the choice still leaves a
    question, and `partly-taken`.
    """
    demand(by.roles, Act.INTAKE_UPLOAD)
    _still_open(batch)
    if batch.rows.filter(taken_at__isnull=False).exists():
        raise Refusal(
            "partly-taken", "A part of this list is taken in as it was read. Take in the rest as well, or not."
        )
    seen = batch.version if version is None else version
    width = len(batch.headers)
    cells = {row.number: cells_from_json(row.cells) for row in batch.rows.only("number", "cells")}
    rows = tuple(Row(number, each[:width], each[width:]) for number, each in cells.items())
    read_again = _read(batch, Table(tuple(batch.headers), rows), meaning, by.today)
    if batch.question:
        raise Refusal("columns-unknown", batch.question)
    return _keep_again(batch, read_again, by=by, version=seen, meaning=meaning)


@act(Act.INTAKE_UPLOAD)
def _keep_again(batch: IntakeBatch, rows: list[IntakeRow], *, by: By, version: int, meaning: Meaning) -> IntakeBatch:
    open_list(IntakeBatch.objects.get(pk=batch.pk), version)
    batch.rows.all().delete()
    batch.version = version + 1
    batch.save()
    insert(rows)
    said = {"columns": dict(meaning.columns), "month_first": list(meaning.month_first)}
    IntakeSource.objects.filter(pk=batch.source_id).update(**said)
    trail(Act.INTAKE_UPLOAD, batch, by=by, patient_id=None, changed={"columns": ("", "chosen")})
    return batch


def decide(batch: IntakeBatch, *, by: By, version: int | None, decisions: Mapping[int, Decision]) -> IntakeBatch:
    """Keep what somebody answered to doubtful rows, by their numbers; all rows are held against the record anew, and
    nobody waits meanwhile."""
    demand(by.roles, Act.INTAKE_UPLOAD)
    _still_open(batch)
    seen = batch.version if version is None else version
    rows = {row.number: row for row in batch.rows.all()}
    left = {number: row for number, row in rows.items() if not row.taken_at}
    for number in decisions.keys() & left.keys():
        left[number].decision = decisions[number].as_json()
    found = _matches(batch, entries_of(rows.values()), by.today)
    for number in found.keys() & left.keys():
        for name, value in _columns_of(found[number]).items():
            setattr(left[number], name, value)
    return _keep_answers(batch, list(left.values()), by=by, version=seen, decided=len(decisions))


@act(Act.INTAKE_UPLOAD)
def _keep_answers(batch: IntakeBatch, rows: list[IntakeRow], *, by: By, version: int, decided: int) -> IntakeBatch:
    open_list(batch, version)
    rewrite(rows, ["decision", "verdict", "outcome", "match"])
    batch.version += 1
    batch.save(update_fields=["version"])
    trail(Act.INTAKE_UPLOAD, batch, by=by, patient_id=None, changed={"rows decided": (0, decided)})
    return batch


def accept_doubtful(batch: IntakeBatch, *, by: By) -> IntakeBatch:
    """Take as read every doubtful row that leaves no choice between people or operations."""
    plain = batch.rows.filter(verdict=Verdict.DOUBTFUL, outcome="")
    found = (match_from_json(row.verdict, row.outcome, row.match) for row in plain)
    numbers = [row.number for row, match in zip(plain, found, strict=True) if not (match.people or match.episodes)]
    return decide(batch, by=by, version=None, decisions=dict.fromkeys(numbers, Decision(read=True)))


@act(Act.INTAKE_UPLOAD)
def discard(batch: IntakeBatch, *, by: By) -> None:
    """Throw an unconfirmed upload away; one of which a part was taken in stays, and says that of the rest."""
    open_list(batch, None)
    trail(Act.INTAKE_UPLOAD, batch, by=by, patient_id=None, changed={"thrown away": ("", "yes")})
    if batch.rows.filter(taken_at__isnull=False).exists():
        _let_go(batch, by.at)
    else:
        batch.delete()


def _let_go(batch: IntakeBatch, at: datetime) -> None:
    """Leave out what was not taken, and close the list."""
    rest = list(batch.rows.filter(taken_at__isnull=True).exclude(outcome=""))
    for row in rest:
        leave_out(row, match_from_json(row.verdict, row.outcome, row.match), THROWN_AWAY)
    rewrite(rest, ["verdict", "outcome", "match"])
    IntakeBatch.objects.filter(pk=batch.pk).update(confirmed_at=at)


def leave_out(row: IntakeRow, now: Match, why: str) -> None:
    """Mark a row as left out, with the reason, as the record says now."""
    moved = Problem("", "moved-meanwhile", why, Severity.DOUBTFUL)
    verdict = now.verdict if now.verdict == Verdict.REFUSED else Verdict.DOUBTFUL
    left = replace(now, verdict=verdict, outcome=None, remarks=(*now.remarks, moved))
    row.verdict, row.outcome, row.match = verdict, "", left.as_json()


def open_list(batch: IntakeBatch, version: int | None) -> None:
    """Lock a list that may still be changed. Raises Refusal `being-taken`, `confirmed-already`, `changed-meanwhile`."""
    fresh(batch, version)
    _still_open(batch)


def _still_open(batch: IntakeBatch) -> None:
    batch.refresh_from_db()
    if taking_in(batch):
        raise Refusal("being-taken", "This list is being taken in just now. Wait until that is over, or cancel it.")
    if batch.confirmed_at:
        who = f" by {batch.confirmed_by}" if batch.confirmed_by else ""
        raise Refusal("confirmed-already", f"This list was taken in already{who}. Nothing was written a second time.")


def taking_in(batch: IntakeBatch) -> Job | None:
    """The job that takes a list in just now, if there is one."""
    return Job.objects.filter(kind=JOB, asked__batch=batch.code, ended_at__isnull=True).first()


@transaction.atomic
def forget_old_uploads(now: datetime) -> None:
    """Drop uploads, or the rest of them, that nobody confirmed for 30 days, and cells of those confirmed 90 days ago.

    What stays of a row that was taken is what it made, so that the same list again is still known.
    """
    stale = IntakeBatch.objects.filter(confirmed_at__isnull=True, uploaded_at__lt=now - KEPT_UNCONFIRMED)
    for batch in stale.filter(rows__taken_at__isnull=False).distinct():
        _let_go(batch, now)
    stale.delete()
    old = IntakeBatch.objects.filter(confirmed_at__lt=now - KEPT_CELLS, forgotten_at__isnull=True)
    rows = IntakeRow.objects.filter(batch__in=old)
    rows.filter(taken_at__isnull=True).update(identity="")
    rows.update(cells=[], entry=None, problems=[], match={}, decision={})
    old.update(forgotten_at=now)
