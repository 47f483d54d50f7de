"""A long list cut into portions that can be taken in one after the other, each by itself.

Rows that share anything by which persons are held against each other stay together, so that a portion is found to be
the same whether the others are on record already or not.
"""

from collections.abc import Hashable, Iterator, Mapping, Sequence

from caseload.reads.matching.entry import Entry
from caseload.reads.matching.match import Match


def portions(entries: Sequence[Entry], matches: Mapping[int, Match], size: int) -> list[list[int]]:
    """The numbers of all rows, in portions of `size` or a little more; only rows of one cluster make a longer one."""
    cut: list[list[int]] = []
    for cluster in _clusters(entries, matches):
        if not cut or len(cut[-1]) >= size:
            cut.append([])
        cut[-1] += cluster
    return cut


def _clusters(entries: Sequence[Entry], matches: Mapping[int, Match]) -> list[list[int]]:
    """Rows that share something, directly or through others; by their first row."""
    root: dict[int, int] = {}
    first: dict[Hashable, int] = {}
    for entry in entries:
        root[entry.number] = entry.number
        for shared in _shared(entry, matches[entry.number]):
            one, other = _root(root, entry.number), _root(root, first.setdefault(shared, entry.number))
            root[max(one, other)] = min(one, other)
    found: dict[int, list[int]] = {}
    for entry in entries:
        found.setdefault(_root(root, entry.number), []).append(entry.number)
    return list(found.values())


def _root(root: dict[int, int], number: int) -> int:
    while root[number] != number:
        root[number] = number = root[root[number]]
    return number


def _shared(entry: Entry, match: Match) -> Iterator[Hashable]:
    key = entry.key
    yield "person", match.patient or match.new_of or entry.number
    yield "name", key.name
    yield from key.numbers
    if key.born_on:
        yield from ((key.born_on, name) for name in key.name)
