"""What was measured, as a table in Markdown: floor, ours, ratio, goal, met."""

from collections.abc import Iterable, Iterator
from itertools import product
from typing import Any, Final

from tests.benchmarks.table import met as is_met
from tests.benchmarks.table import whole

NEAR: Final = "overdue, 50 rows, page 1"
FAR: Final = "overdue, page 40"
SMALL, LARGE = 3_000, 100_000
COMPARED: Final = ("Compared", "Who", "Open", "Database", "Floor ms", "Ours ms", "Ratio", "Goal", "Met")

HEAD: Final = ("Page", "Who", "Open", "Database", "Queries", "In process p50 / p95 ms", "u", "Served p50 / p95 ms", "u",
               "Goal", "Met")  # fmt: skip


def rows(found: Iterable[dict[str, Any]]) -> Iterator[tuple[str, ...]]:
    for row in found:
        here, there = row["here"], row["there"]
        yield (
            row["name"], row["of"], f"{row['size']:,}", row["database"], str(row["many"]),
            f"{here[0]:,.1f} / {here[1]:,.1f}", f"{here[2]:.1f}", f"{there[0]:,.1f} / {there[1]:,.1f}",
            f"{there[2]:.1f}", goal(row), met(row),
        )  # fmt: skip


def goal(row: dict[str, Any]) -> str:
    said = [f"≤ {row['units']:g} u"] if row["units"] else []
    return ", ".join(said + ([f"≤ {row['queries']} queries"] if row["queries"] else []))


def met(row: dict[str, Any]) -> str:
    """In process, where nothing but the page is measured."""
    if not row["units"]:
        return ""
    few = not row["queries"] or row["many"] <= row["queries"]
    return is_met(row["here"][2] <= row["units"] and few)


def of_part(part: str, found: list[dict[str, Any]]) -> str:
    if part == "pages":
        beside = side_by_side(found)
        return "\n\n".join((whole(HEAD, rows(found)), whole(COMPARED, compared(found)), whole(next(beside), beside)))
    return whole(found[0], (row.values() for row in found)) if found else ""


def compared(found: Iterable[dict[str, Any]]) -> Iterator[tuple[str, ...]]:
    """The last page of a list against its first, and a large caseload against a small one, by milliseconds in
    process."""
    by = {(row["name"], row["of"], row["size"], row["database"]): row["here"][0] for row in found}
    for name, of, size, database in by:
        if name == FAR:
            yield _ratio(f"{FAR} / {NEAR}", of, f"{size:,}", database, by[FAR, of, size, database],
                         by[NEAR, of, size, database], 1.15)  # fmt: skip
    for name, of, size, database in by:
        if name == NEAR and size == LARGE and (NEAR, of, SMALL, database) in by:
            yield _ratio(NEAR, of, f"{LARGE:,} / {SMALL:,}", database, by[NEAR, of, LARGE, database],
                         by[NEAR, of, SMALL, database], 1.3)  # fmt: skip


def side_by_side(found: list[dict[str, Any]]) -> Iterator[tuple[str, ...]]:
    """A row for each page: both sizes on both databases, as p50 / p95 milliseconds served · u in process. The head
    first."""
    by = {(row["name"], row["of"], row["database"], row["size"]): row for row in found}
    places = [each for each in product(("sqlite", "postgresql"), (SMALL, LARGE)) if any(key[2:] == each for key in by)]
    yield ("Page", "Whose", *(f"{database} {size:,}" for database, size in places), "Goal")
    for name, of in dict.fromkeys(key[:2] for key in by):
        there = [by.get((name, of, *place)) for place in places]
        first = next((row for row in there if row), None)
        if first:
            yield (name, of, *(_brief(row) for row in there), goal(first))


def _brief(row: dict[str, Any] | None) -> str:
    return f"{row['there'][0]:,.0f} / {row['there'][1]:,.0f} · {row['here'][2]:.1f}" if row else ""


def _ratio(what: str, of: str, size: str, database: str, ours: float, floor: float, goal: float) -> tuple[str, ...]:
    return (what, of, size, database, f"{floor:.1f}", f"{ours:.1f}", f"{ours / floor:.2f}", f"≤ {goal}",
            is_met(ours <= goal * floor))  # fmt: skip
