"""The refused rows of a list as a file: its own columns and the reason, to be mended and uploaded again."""

from collections.abc import Iterable, Mapping, Sequence

from caseload.exchange.headers import REASON, passed_over
from caseload.exchange.operated import Problem, Severity
from caseload.exchange.table import BEYOND
from caseload.exchange.writing import write_csv, write_xlsx

Refused = Iterable[tuple[Mapping[str, str], str]]
"""For each refused row, its cells by header and the reason."""


def reason(problems: Iterable[Problem]) -> str:
    """All that is wrong with a row in one cell, what refuses it first."""
    ordered = sorted(problems, key=lambda problem: problem.severity is not Severity.REFUSED)
    return " ".join(
        f"{problem.column}: {problem.message}" if problem.column else problem.message for problem in ordered
    )


def refused_table(headers: Sequence[str], refused: Refused) -> tuple[list[str], list[list[str]]]:
    """Headers and rows: the columns as uploaded, those to the right of them that held something, and the reason."""
    rows = list(refused)
    beyond = sorted({header for cells, _ in rows for header in cells if header.startswith(BEYOND)}, key=_place)
    kept = [header for header in headers if not passed_over(header) and not header.startswith(BEYOND)] + beyond
    return [*kept, REASON], [[*(cells.get(header, "") for header in kept), why] for cells, why in rows]


def _place(header: str) -> tuple[int, str]:
    return len(header), header


def refused_csv(headers: Sequence[str], refused: Refused) -> bytes:
    return write_csv(*refused_table(headers, refused))


def refused_xlsx(headers: Sequence[str], refused: Refused) -> bytes:
    return write_xlsx(*refused_table(headers, refused), sheet="refused")
