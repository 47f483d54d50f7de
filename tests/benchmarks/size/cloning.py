"""Every patient of a database again and again, under keys, codes, names and numbers of their own.

All rows of a patient are copied by one INSERT … SELECT for each table. Copy `k` has every key of the first raised by
k × stride, so that what hangs together still does, and derived rows are as true as those they were copied from. What
may not stay alike is told apart by what a few helper tables hold: names, numbers, therapists, and places in the diary.
"""

from collections.abc import Iterable, Iterator, Mapping
from typing import Any, Final, NamedTuple

from django.db import connection, models, transaction

from caseload import models as tables

CLONED: Final[tuple[type[models.Model], ...]] = (
    tables.Patient, tables.Identifier, tables.Referral, tables.Episode, tables.Instruction, tables.FollowUp,
    tables.Appointment, tables.Seat, tables.Purpose, tables.Contact, tables.SetReview, tables.Visit, tables.Completion,
    tables.Examined, tables.Measurement, tables.Finding, tables.Countersignature, tables.RedFlagEscalation,
    tables.RedFlagClosure, tables.Notice, tables.Standing, tables.TrailEntry, tables.Look, tables.Wait,
)  # fmt: skip
"""In an order in which a row never comes before what it names."""
PEOPLE: Final = 20_011
"""Names to draw from; prime, so that a step of any length comes round to all of them."""
PORTION: Final = 10
"""Copies in one transaction: what keeps memory bounded."""
HELPERS: Final = {
    "copy": "k integer PRIMARY KEY, shift bigint, front varchar(4), turn integer",
    "person": "place integer PRIMARY KEY, given text, family text, search_key text, phone text, phone_key text",
    "owner": "therapist bigint, turn integer, owner bigint, PRIMARY KEY (therapist, turn)",
    "number": "identifier bigint, k integer, value text, PRIMARY KEY (identifier, k)",
    "place": "appointment bigint PRIMARY KEY, j integer, first bigint, per integer, n integer, was integer",
    "seat": "slot bigint PRIMARY KEY, i integer",
}
OWNER: Final = "(SELECT o.owner FROM size_owner o WHERE o.therapist = t.therapist_id AND o.turn = c.turn)"
NTH: Final = "(p.j * {copies} + c.k - 1)"
"""How many of its like come before an appointment: see `diary.Like`."""
START: Final = f"({{first_minute}} + {NTH} % p.per * p.n * 20)"


Row = tuple[int | str, ...]


class Plan(NamedTuple):
    """`copies` beside the first, keys raised by `stride`; sessions and slots of the copies are numbered from these."""

    copies: int
    stride: int
    first_session: int
    first_slot: int
    slots: int
    first_minute: int


class Special(NamedTuple):
    """What a table does not copy as it stands: columns by name, further tables, and which rows alone."""

    columns: dict[str, str]
    joined: str = ""
    where: str = ""


def _special(vendor: str) -> dict[type[models.Model], Special]:
    sqlite = vendor == "sqlite"
    days = "c.k * 37 % 4001 - 2000"
    born_on = f"date(t.born_on, ({days}) || ' days')" if sqlite else f"t.born_on + ({days})"
    later = f"{START} - p.was"
    until = f"datetime(t.until_at, ({later}) || ' minutes')"
    until = until if sqlite else f"t.until_at + make_interval(mins => {later})"
    its_own = {
        "born_on": born_on, "given": "p.given", "family": "p.family", "search_key": "p.search_key",
        "phone": "p.phone", "phone_key": "p.phone_key",
        "email": "CASE t.email WHEN '' THEN '' ELSE lower(p.given || '.' || p.family) || '@example.org' END",
    }  # fmt: skip
    placed = "LEFT JOIN size_place p ON p.appointment = "
    number = "coalesce(n.value, 'SH' || (100000000 + t.id + c.shift))"
    seat = f"{{first_slot}} + ({NTH} / p.per + p.first - {{first_session}}) * {{slots}} + {NTH} % p.per * p.n + s.i"
    ends = f"CASE WHEN p.was IS NULL OR t.kind IN ('week-before', 'referrer') THEN t.until_at ELSE {until} END"
    of_patient = Special({"subject_id": "t.subject_id + c.shift"}, where="t.patient_id IS NOT NULL")
    return {
        tables.Patient: Special(its_own, f"JOIN size_person p ON p.place = (t.id * 31 + c.k * 7919) % {PEOPLE}"),
        tables.Identifier: Special(
            {"value": number, "as_typed": number}, "LEFT JOIN size_number n ON n.identifier = t.id AND n.k = c.k"
        ),
        tables.Appointment: Special(
            {"session": f"p.first + {NTH} / p.per", "start_minute": START}, f"{placed} t.id"
        ),
        tables.Seat: Special(
            {"slot": seat}, f"{placed} t.appointment_id JOIN size_seat s ON s.slot = t.slot_id"
        ),
        tables.Notice: Special({"key": "c.front || substr(t.key, 5)", "until_at": ends}, f"{placed} t.appointment_id"),
        tables.TrailEntry: of_patient,
        tables.Look: Special({}, where="t.patient_id IS NOT NULL"),
        tables.FollowUp: Special({"key": _caused("key", vendor)}),
        tables.Wait: Special({"key": _caused("key", vendor), "therapist": OWNER}),
        tables.Standing: Special({"follow_up_key": _caused("follow_up_key", vendor), "therapist": OWNER}),
        tables.Episode: Special({"therapist": OWNER}),
    }  # fmt: skip


def _caused(column: str, vendor: str) -> str:
    """A key that may end with the number of what caused it, such as `wound-recheck:f17`."""
    at = f"{'instr' if vendor == 'sqlite' else 'strpos'}(t.{column}, ':')"
    number = f"(CAST(substr(t.{column}, {at} + 2) AS bigint) + c.shift)"
    return f"CASE {at} WHEN 0 THEN t.{column} ELSE substr(t.{column}, 1, {at} + 1) || {number} END"


def statement(model: type[models.Model], plan: Plan) -> str:
    """Copies the rows of one table; the first and the last copy are its two parameters."""
    special = _special(connection.vendor).get(model, Special({}))
    fields = model._meta.concrete_fields
    columns = ", ".join(f'"{field.column}"' for field in fields)
    values = ", ".join(special.columns.get(field.name) or _copied(field) for field in fields)
    key = model._meta.pk.column
    chosen = f"c.k BETWEEN %s AND %s AND t.{key} < {plan.stride}" + (special.where and f" AND {special.where}")
    source = f"size_copy c CROSS JOIN {model._meta.db_table} t {special.joined}"
    text = f"SELECT {values} FROM {source} WHERE {chosen} ORDER BY c.k, t.{key}"
    escaped = text.replace(" % ", " %% ").format(**plan._asdict())
    return f"INSERT INTO {model._meta.db_table} ({columns}) {escaped}"


def _copied(field: Any) -> str:
    if field.primary_key or field.is_relation and field.related_model in CLONED:
        return f't."{field.column}" + c.shift'
    return "c.front || substr(t.code, 5)" if field.name == "code" else f't."{field.column}"'


def helpers(rows: Mapping[str, Iterable[Row]]) -> None:
    """Make the helper tables of this connection, each with its rows."""
    with connection.cursor() as cursor:
        for name, columns in HELPERS.items():
            cursor.execute(f"DROP TABLE IF EXISTS size_{name}")
            cursor.execute(f"CREATE TEMPORARY TABLE size_{name} ({columns})")
            marks = ", ".join(["%s"] * (columns.count(",") + 1 - columns.count("PRIMARY KEY (") * 2))
            cursor.executemany(f"INSERT INTO size_{name} VALUES ({marks})", list(rows[name]))
            if connection.vendor == "postgresql":
                cursor.execute(f"ANALYZE size_{name}")


def clone(plan: Plan) -> Iterator[int]:
    """Make all copies, a portion at a time; tells how many there are after each."""
    statements = [statement(model, plan) for model in CLONED]
    for first in range(1, plan.copies + 1, PORTION):
        last = min(first + PORTION - 1, plan.copies)
        with transaction.atomic(), connection.cursor() as cursor:
            for each in statements:
                cursor.execute(each, [first, last])
        yield last
