"""What was measured, as a table in Markdown: floor, ours, ratio, goal, met."""

from collections.abc import Iterable, Iterator
from typing import Any

HEAD = (
    "Page",
    "Who",
    "Open",
    "Database",
    "Queries",
    "In process p50 / p95 ms",
    "u",
    "Served p50 / p95 ms",
    "u",
    "Goal",
    "Met",
)


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
    return "yes" if row["here"][2] <= row["units"] and few else "**no**"


def markdown(head: Iterable[str], lines: Iterable[Iterable[str]]) -> str:
    head = list(head)
    parts = [head, ["---"] * len(head), *lines]
    return "\n".join("| " + " | ".join(part) + " |" for part in parts)


def of_part(part: str, found: list[dict[str, Any]]) -> str:
    if part == "pages":
        return markdown(HEAD, rows(found))
    if not found:
        return ""
    return markdown(found[0], ([str(value) for value in row.values()] for row in found))
