"""Digests over rows of a record, chained block by block, so that a change of what was written shows.

A row is written in one form only: JSON of RFC 8785 (keys in order of their UTF-16 code units, no white space, numbers
as ECMAScript writes an IEEE double, the shortest escapes), in UTF-8. Its digest is SHA-256 (FIPS 180-4). The digest of
a block is SHA-256 over its heading in the same form, a line feed, and the digests of its rows one after the other; the
heading holds the digest of the block before. So a digest of one row may stand for the row itself.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum
from hashlib import sha256
from itertools import groupby
from json import JSONEncoder
from typing import Any, Final, NamedTuple

FIRST: Final = "0" * 64
"""What stands for the digest before the first block."""
MARK: Final = 16
"""Hexadecimal digits of a row's digest that a block keeps of each row, to find the one that does not fit."""
Spans = list[tuple[int, int]]
_text = JSONEncoder(ensure_ascii=False).encode
_EXPONENT_FROM, _EXPONENT_BELOW = 1e21, 1e-6


class Wrong(StrEnum):
    CHANGED = "changed"
    MISSING = "missing"
    ADDED = "added"
    SEAL = "seal"
    CHAIN = "chain"
    EXPECTED = "expected"


class Fault(NamedTuple):
    """What is wrong with a block, and with which row of which table where it is a row."""

    block: int
    wrong: Wrong
    table: str = ""
    row: int = 0


@dataclass
class Proof:
    """What one pass found. `unsealed` are rows that no block holds yet; `digest` is that of the last block."""

    blocks: int = 0
    rows: int = 0
    unsealed: int = 0
    digest: str = FIRST
    faults: list[Fault] = field(default_factory=list)

    @property
    def first(self) -> Fault | None:
        return min(self.faults, key=lambda fault: fault.block, default=None)


def canonical(value: Any) -> str:
    """A JSON value as RFC 8785 writes it. Raises ValueError for a number that is not finite, TypeError for what JSON
    does not know. A whole number beyond 2**53 is rounded to a double, as the RFC asks.
    """
    if isinstance(value, str):
        return _text(value)
    if value is None or isinstance(value, bool):
        return {None: "null", True: "true", False: "false"}[value]
    if isinstance(value, int | float):
        return _number(value)
    if isinstance(value, Mapping):
        names = sorted(value, key=lambda name: name.encode("utf-16-be", "surrogatepass"))
        return "{" + ",".join(f"{_text(name)}:{canonical(value[name])}" for name in names) + "}"
    if isinstance(value, list | tuple):
        return "[" + ",".join(map(canonical, value)) + "]"
    raise TypeError(f"{type(value).__name__} is no JSON")


def _number(value: float) -> str:
    """Number::toString of ECMAScript: Python finds the same shortest digits and sets the exponent elsewhere."""
    if isinstance(value, int) and abs(value) < 2**53:
        return str(value)
    value = float(value)
    if value != value or value in (float("inf"), float("-inf")):
        raise ValueError("JSON has no such number")
    if value == 0:
        return "0"
    said = repr(value)
    if _EXPONENT_BELOW <= abs(value) < _EXPONENT_FROM:
        return format(Decimal(said), "f").removesuffix(".0")
    digits, _, power = said.partition("e")
    return f"{digits.removesuffix('.0')}e{int(power):+d}"


def digest_of(row: Any) -> str:
    """The digest of one row, as 64 hexadecimal digits."""
    return sha256(canonical(row).encode("utf-8", "surrogatepass")).hexdigest()


def digest_of_block(heading: Mapping[str, Any], rows: Iterable[str]) -> str:
    """The digest of a block from its heading and the digests of its rows."""
    whole = sha256(f"{canonical(heading)}\n".encode())
    for digest in rows:
        whole.update(bytes.fromhex(digest))
    return whole.hexdigest()


def spans_of(keys: Iterable[int]) -> Spans:
    """Ascending keys as stretches without a gap, both ends included."""
    runs = (list(run) for _, run in groupby(enumerate(keys), lambda pair: pair[1] - pair[0]))
    return [(run[0][1], run[-1][1]) for run in runs]


def keys_in(spans: Iterable[Iterable[int]]) -> Iterator[int]:
    """Every key of some spans, in their order."""
    for first, last in spans:
        yield from range(first, last + 1)
