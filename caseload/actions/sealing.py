"""Sealing the trail in blocks of a few minutes, each holding the digest of the one before.

A chain from row to row would have every request wait for the one before it. Keys are given out before rows are
committed, so a block may have gaps that fill later: it names its rows by spans of keys, and a row that turns up in a
gap goes into a later block. A gap stays open for an hour of sealing, far longer than any transaction here lasts; what
turns up after that was not written by the planner, and `reads.proof` says so.
"""

import logging
from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any, Final

from django.db import IntegrityError, transaction
from django.db.models import QuerySet

from caseload.exchange.seals import FIRST, MARK, digest_of_block, keys_in, spans_of
from caseload.models import Gone, Look, Seal, TrailEntry
from caseload.reads.proof import GAPS_OPEN
from caseload.reads.sealed import TABLES, digests, heading_of

SETTLING: Final = timedelta(minutes=3)
MOST: Final = 2000
"""Keys of a table in one block: what has piled up is sealed block by block, so that none takes long."""
AT_ONCE: Final = 500

log = logging.getLogger("caseload.seals")


def seal(at: datetime) -> Seal | None:
    """Close a block over what is not sealed yet and older than a few minutes; None where there is nothing.

    Its number and digest go into the log: an anchor outside of the database. Of two at once only one seals.
    """
    last = Seal.objects.defer("marks").order_by("number").last()
    block = Seal(number=last.number + 1 if last else 1, at=at, before=last.digest if last else FIRST, spans={}, upto={})
    found: list[str] = []
    for table in TABLES:
        keys, block.upto[table] = _keys_of(table, last, at)
        rows = _digests_of(table, keys)
        block.spans[table] = spans_of(key for key, _ in rows)
        found += (digest for _, digest in rows)
    block.rows, block.marks = len(found), "".join(digest[:MARK] for digest in found)
    block.digest = digest_of_block(heading_of(block), found)
    return block if found and _close(block) else None


def _close(block: Seal) -> bool:
    try:
        with transaction.atomic():
            block.save(force_insert=True)
    except IntegrityError:  # somebody else has just sealed
        return False
    said = "Block %d of the trail is sealed: %d rows, %s"
    transaction.on_commit(lambda: log.info(said, block.number, block.rows, block.digest))
    return True


def _keys_of(table: str, last: Seal | None, at: datetime) -> tuple[list[int], int]:
    """The keys that the next block holds, ascending, and the highest that has then been looked at."""
    after = last.upto[table] if last else 0
    rows = TABLES[table].model._base_manager.order_by("id")
    new = list(rows.filter(pk__gt=after).values_list("pk", "at")[:MOST])
    while new and new[-1][1] > at - SETTLING:
        new.pop()
    keys = [key for key, _ in new]
    return _late(table, last) + keys, keys[-1] if keys else after


def _late(table: str, last: Seal | None) -> list[int]:
    """The keys of rows that have turned up in the open gaps."""
    if last is None:
        return []
    recent = list(Seal.objects.defer("marks").filter(at__gte=last.at - GAPS_OPEN).order_by("number"))
    earlier = Seal.objects.filter(number=recent[0].number - 1).values_list("upto", flat=True).first()
    held = {key for block in recent for key in keys_in(block.spans[table])}
    rows = TABLES[table].model._base_manager.filter(pk__gt=earlier[table] if earlier else 0, pk__lte=last.upto[table])
    return [key for key in rows.order_by("id").values_list("pk", flat=True) if key not in held]


def _digests_of(table: str, keys: list[int]) -> list[tuple[int, str]]:
    """Of those that are still there: one that is let go in between is in no block."""
    if not keys:
        return []
    wanted = set(keys)
    rows = TABLES[table].model._base_manager.filter(pk__gte=keys[0], pk__lte=keys[-1])
    return [pair for pair in digests(table, rows) if pair[0] in wanted]


def let_go(entries: QuerySet[TrailEntry], looks: QuerySet[Look], at: datetime) -> int:
    """Delete rows of the trail with the record that they belong to, and keep their digests; how many there were."""
    with transaction.atomic():
        return _let_go("entries", entries, at) + _let_go("looks", looks, at)


def _let_go(table: str, rows: QuerySet[Any], at: datetime) -> int:
    keys = sorted(rows.order_by().values_list("pk", flat=True))
    manager = TABLES[table].model._base_manager
    for some in _portions(keys):
        own = manager.filter(pk__in=some)
        gone = [Gone(table=table, row=key, digest=digest, at=at) for key, digest in digests(table, own)]
        Gone.objects.bulk_create(gone)
        own._raw_delete(own.db)
    return len(keys)


def _portions(keys: list[int]) -> Iterable[list[int]]:
    return (keys[start : start + AT_ONCE] for start in range(0, len(keys), AT_ONCE))
