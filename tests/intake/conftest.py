"""A small Fernhollow, and lists written for a test: one row said in a line."""

from collections.abc import Callable, Iterable
from itertools import count

import pytest
from django.test import Client

from caseload.actions import confirming, intake
from caseload.models import IntakeBatch
from tests.intake.pages import post_file
from tests.scenario import TODAY, Fernhollow, by, fernhollow
from tests.web.conftest import admin, lead, sign_in, therapist  # noqa: F401
from tests.web.conftest import today as _today  # noqa: F401

HEADERS = (
    "NHS number", "Surname", "First name", "Date of birth", "Telephone", "Surgery date", "Side", "Digit", "Suture",
    "Stitches in", "Surgeon", "Site", "Hand therapy", "Referral received", "Notes",
)  # fmt: skip
ORDINARY = {
    "NHS number": "999 000 0018", "Surname": "Ashdown", "First name": "Marian", "Date of birth": "1957-06-14",
    "Telephone": "07700 900101", "Surgery date": "2026-03-20", "Side": "right", "Digit": "ring", "Suture": "nylon",
    "Stitches in": "3", "Surgeon": "P Quill", "Site": "Fernhollow", "Hand therapy": "yes",
    "Referral received": "2026-03-21",
}  # fmt: skip
_file = count(1)


@pytest.fixture
def clinic(db: None) -> Fernhollow:
    return fernhollow()


def said(**cells: str) -> dict[str, str]:
    """An ordinary row with some cells of its own; `nhs_number` is the header `NHS number`."""
    named = {header.replace(" ", "_").lower(): header for header in HEADERS}
    return ORDINARY | {named[name]: cell for name, cell in cells.items()}


def listing(*rows: dict[str, str]) -> bytes:
    lines = [HEADERS, *([row.get(header, "") for header in HEADERS] for row in rows)]
    return "\n".join(",".join(line) for line in lines).encode()


@pytest.fixture
def upload(clinic: Fernhollow) -> Callable[..., IntakeBatch]:
    """Upload rows, or the bytes of a file, as the booking admin."""

    def uploaded(*rows: dict[str, str] | bytes, today=TODAY, **options) -> IntakeBatch:
        data = rows[0] if rows and isinstance(rows[0], bytes) else listing(*rows)
        return intake.upload(data, file_name=f"list {next(_file)}.csv", by=by(clinic.admin, today), **options)

    return uploaded


@pytest.fixture
def take(clinic: Fernhollow, upload) -> Callable[..., IntakeBatch]:
    """Upload and confirm."""

    def taken(*rows: dict[str, str] | bytes, today=TODAY, **options) -> IntakeBatch:
        return confirming.confirm(upload(*rows, today=today, **options), by=by(clinic.admin, today), version=None)

    return taken


def verdicts(batch: IntakeBatch) -> list[str]:
    return list(batch.rows.values_list("verdict", flat=True))


def codes(batch: IntakeBatch, number: int = 2) -> set[str]:
    """The codes of everything that is said against a row."""
    row = batch.rows.get(number=number)
    return {code for _, code, *_ in [*row.problems, *row.match.get("remarks", [])]}


def changes(batch: IntakeBatch, number: int = 2) -> dict[str, list[object]]:
    """Field -> [was, now] of all that a row would change."""
    match = batch.rows.get(number=number).match
    told: Iterable = [*match["person"], *(change for _, _, each in match["operations"] for change in each)]
    return {field: [was, now] for field, was, now in told}


@pytest.fixture
def uploaded(admin: Client) -> Callable[..., IntakeBatch]:  # noqa: F811
    """Upload rows, or the bytes of a file, through the page."""

    def upload(*rows: dict[str, str] | bytes, **typed: str) -> IntakeBatch:
        data = rows[0] if isinstance(rows[0], bytes) else listing(*rows)
        assert post_file(admin, data, **typed).status_code == 302
        return IntakeBatch.objects.latest("pk")

    return upload
