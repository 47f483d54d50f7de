"""Whether the trail is what was sealed: every block and every row, in one pass and a few blocks in memory."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from itertools import islice, zip_longest
from typing import Final, NamedTuple

from caseload.exchange.seals import MARK, Fault, Proof, Wrong, digest_of_block, keys_in
from caseload.models import Gone, Seal
from caseload.reads.sealed import TABLES, digests, heading_of

GAPS_OPEN: Final = timedelta(hours=1)
"""So long after a block, counted from seal to seal, a row may turn up in one of its gaps and be in a later block."""
AT_ONCE: Final = 20
"""Blocks that are read together."""
NAMED: Final = 100
"""Faults that are named; one is enough, and a trail that was rewritten has one in each row."""


class Stray(NamedTuple):
    """A row that lies among those of a block and was not in it."""

    block: int
    at: datetime
    digest: str


def prove(expected: dict[int, str] | None = None) -> Proof:
    """Check every seal; `expected` are digests of blocks by number, kept outside of this database."""
    walk = Walk(expected or {})
    for _ in walk.steps():
        pass
    return walk.proof


class Walk:
    """One pass over all blocks, to be driven step by step; `proof` is whole when the steps are over."""

    def __init__(self, expected: dict[int, str]) -> None:
        self.expected, self.proof = dict(expected), Proof()
        self.upto = dict.fromkeys(TABLES, 0)
        self.strays: dict[str, dict[int, Stray]] = {table: {} for table in TABLES}
        self.at = datetime.min

    def steps(self) -> Iterator[tuple[int, int]]:
        """Blocks done, and blocks in all."""
        of, seals = Seal.objects.count(), Seal.objects.order_by("number").iterator(chunk_size=AT_ONCE)
        while some := list(islice(seals, AT_ONCE)):
            self._check_some(some)
            yield self.proof.blocks, of
        self._end()

    def _check_some(self, seals: list[Seal]) -> None:
        rows = {table: self._rows_until(table, seals[-1]) for table in TABLES}
        for seal in seals:
            self._chain(seal)
            try:
                self._check(seal, rows)
            except (AttributeError, KeyError, TypeError, ValueError):
                self._fault(seal.number, Wrong.SEAL)
            self.proof.blocks, self.proof.digest, self.at = seal.number, seal.digest, seal.at

    def _rows_until(self, table: str, seal: Seal) -> "Ahead":
        try:
            upto = int(seal.upto[table])
        except (KeyError, TypeError, ValueError):
            upto = self.upto[table]
        after, manager = self.upto[table], TABLES[table].model._base_manager
        found = manager.filter(pk__lte=upto, **({"pk__gt": after} if self.proof.blocks else {}))
        return Ahead(digests(table, found))

    def _chain(self, seal: Seal) -> None:
        if seal.number != self.proof.blocks + 1 or seal.before != self.proof.digest:
            self._fault(seal.number, Wrong.CHAIN)
        if self.expected.pop(seal.number, seal.digest) != seal.digest:
            self._fault(seal.number, Wrong.EXPECTED)

    def _check(self, seal: Seal, rows: dict[str, "Ahead"]) -> None:
        named = sum(last - first + 1 for table in TABLES for first, last in seal.spans[table])
        beyond = any(last > seal.upto[table] for table in TABLES for _, last in seal.spans[table])
        if named != seal.rows or beyond or len(seal.marks) != seal.rows * MARK:
            raise ValueError
        found = [row for table in TABLES for row in self._rows_of(seal, table, rows[table])]
        self.proof.rows += len(found)
        if any(digest is None for *_, digest in found):
            intact = False
        else:
            intact = digest_of_block(heading_of(seal), (digest or "" for *_, digest in found)) == seal.digest
        if not intact:
            self._name(seal, found)

    def _rows_of(self, seal: Seal, table: str, rows: "Ahead") -> Iterator[tuple[str, int, str | None]]:
        """Each row that the block names, with its digest; what else lies there is put aside."""
        here = dict(rows.until(seal.upto[table]))
        gone = _gone(table, seal)
        for key in keys_in(seal.spans[table]):
            digest = here.pop(key, None) or self._late(table, key)
            if digest and key in gone:
                self._fault(seal.number, Wrong.ADDED, table, key)
            yield table, key, gone.get(key) or digest or _gone_meanwhile(table, key)
        self.strays[table] |= {key: Stray(seal.number, seal.at, digest) for key, digest in here.items()}
        self.upto[table] = seal.upto[table]

    def _late(self, table: str, key: int) -> str | None:
        stray = self.strays[table].pop(key, None)
        return stray.digest if stray else None

    def _name(self, seal: Seal, found: list[tuple[str, int, str | None]]) -> None:
        """Name each row that does not fit its mark; the seal itself where all of them do."""
        marks = (seal.marks[start : start + MARK] for start in range(0, len(seal.marks), MARK))
        before = len(self.proof.faults)
        for (table, key, digest), mark in zip_longest(found, marks, fillvalue=("", 0, "")):
            if digest is None:
                self._fault(seal.number, Wrong.MISSING, table, key)
            elif digest[:MARK] != mark:
                self._fault(seal.number, Wrong.CHANGED, table, key)
        if len(self.proof.faults) == before:
            self._fault(seal.number, Wrong.SEAL)

    def _fault(self, block: int, wrong: Wrong, table: str = "", row: int = 0) -> None:
        if len(self.proof.faults) < NAMED:
            self.proof.faults.append(Fault(block, wrong, table, row))

    def _end(self) -> None:
        """What is in no block: not sealed yet, or put among rows that were sealed long before."""
        for table, strays in self.strays.items():
            for key, stray in strays.items():
                if self.at - stray.at > GAPS_OPEN:
                    self._fault(stray.block, Wrong.ADDED, table, key)
                else:
                    self.proof.unsealed += 1
            self.proof.unsealed += TABLES[table].model._base_manager.filter(pk__gt=self.upto[table]).count()
        for number in self.expected:
            self._fault(number, Wrong.EXPECTED)


class Ahead:
    """Keys and digests in order of the keys, of which the next may be looked at."""

    def __init__(self, rows: Iterator[tuple[int, str]]) -> None:
        self.rows = rows
        self.next = next(rows, None)

    def until(self, key: int) -> Iterator[tuple[int, str]]:
        """Those up to `key`."""
        while self.next and self.next[0] <= key:
            yield self.next
            self.next = next(self.rows, None)


def _gone(table: str, seal: Seal) -> dict[int, str]:
    """The rows of a block that went with their record."""
    if not seal.spans[table]:
        return {}
    first, last = seal.spans[table][0][0], seal.spans[table][-1][1]
    return dict(Gone.objects.filter(table=table, row__gte=first, row__lte=last).values_list("row", "digest"))


def _gone_meanwhile(table: str, key: int) -> str | None:
    return Gone.objects.filter(table=table, row=key).values_list("digest", flat=True).first()
