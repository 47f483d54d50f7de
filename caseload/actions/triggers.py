"""What the database holds true by triggers, on both engines alike.

Findings, measurements and the trail with its looks and seals are append-only. A line of the trail is deleted only where
a row of `Gone` holds its digest, or where nobody of the staff is real: the demo is wiped. A month that was filed is
never changed and never deleted; only the demo's is wiped. A seat lies in the session of its appointment; an
appointment serves follow-ups of its own patient only: keys over two tables, which Django cannot declare.
Removed before every migrate and installed after it: SQLite alters a table by making it anew, which drops its triggers
and trips over those that look at it from another table.
"""

from collections.abc import Iterator
from typing import Any, Final, NamedTuple

from django.db import connections


class Guard(NamedTuple):
    """Before `event` on `table`, refuse with `says` unless an SQL condition holds for the row `new` (`old` where it is
    deleted)."""

    name: str
    table: str
    event: str
    unless: str
    says: str


def _kept_for_good(table: str, gone: str = "") -> tuple[Guard, Guard]:
    """Never changed; deleted where nobody of the staff is real, or where `Gone` has the row under the name `gone`."""
    unless = "NOT EXISTS (SELECT 1 FROM caseload_staff AS staff WHERE NOT staff.demo)"
    if gone:
        row = f'SELECT 1 FROM caseload_gone AS gone WHERE gone."table" = \'{gone}\' AND gone."row" = old.id'
        unless = f"EXISTS ({row}) OR {unless}"
    says = f"{table} is append-only"
    return Guard("append_only", table, "UPDATE", "1 = 0", says), Guard("kept", table, "DELETE", unless, says)


GUARDS: Final = (
    Guard("append_only", "caseload_finding", "UPDATE", "1 = 0", "caseload_finding is append-only"),
    Guard("append_only", "caseload_measurement", "UPDATE", "1 = 0", "caseload_measurement is append-only"),
    *_kept_for_good("caseload_trailentry", "entries"),
    *_kept_for_good("caseload_look", "looks"),
    *_kept_for_good("caseload_seal"),
    *_kept_for_good("caseload_gone"),
    Guard("never_changed", "caseload_filing", "UPDATE", "1 = 0", "a month that was filed is never changed"),
    Guard(
        "never_deleted", "caseload_filing", "DELETE",
        "NOT EXISTS (SELECT 1 FROM caseload_staff AS lead WHERE lead.id = old.filed_by_id AND NOT lead.demo)",
        "a month that was filed is never deleted",
    ),
    Guard(
        "one_session", "caseload_seat", "INSERT",
        "EXISTS (SELECT 1 FROM caseload_slot AS slot JOIN caseload_appointment AS held ON held.id = new.appointment_id "
        "WHERE slot.id = new.slot_id AND slot.live AND slot.session_id = held.session_id)",
        "a seat lies in the session of its appointment",
    ),
    Guard(
        "one_patient", "caseload_purpose", "INSERT",
        "EXISTS (SELECT 1 FROM caseload_followup AS due JOIN caseload_appointment AS held "
        "ON held.id = new.appointment_id WHERE due.id = new.follow_up_id AND due.patient_id = held.patient_id)",
        "an appointment serves follow-ups of its own patient",
    ),
)  # fmt: skip

_SQLITE = """
CREATE TRIGGER IF NOT EXISTS {table}_{name} BEFORE {event} ON {table} WHEN NOT ({unless})
BEGIN SELECT RAISE(ABORT, '{says}'); END
"""
_POSTGRESQL = """
CREATE OR REPLACE FUNCTION {table}_{name}() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
  IF NOT ({unless}) THEN RAISE EXCEPTION '{says}' USING ERRCODE = 'integrity_constraint_violation'; END IF;
  RETURN {row};
END $$;
CREATE OR REPLACE TRIGGER {table}_{name} BEFORE {event} ON {table} FOR EACH ROW EXECUTE FUNCTION {table}_{name}();
"""


def install(using: str = "default", **_: Any) -> None:
    """Install the triggers; harmless when they are there already or the tables are not."""
    connection = connections[using]
    with connection.cursor() as cursor:
        for statement in statements(connection.vendor, set(connection.introspection.table_names())):
            cursor.execute(statement)


def remove(using: str = "default", **_: Any) -> None:
    """Take the triggers away for a migration; harmless when they are not there."""
    connection = connections[using]
    tables = set(connection.introspection.table_names())
    of_table = "" if connection.vendor == "sqlite" else " ON {table}"
    with connection.cursor() as cursor:
        for guard in GUARDS:
            if guard.table in tables:
                cursor.execute(f"DROP TRIGGER IF EXISTS {{table}}_{{name}}{of_table}".format(**guard._asdict()))


def statements(vendor: str, tables: set[str]) -> Iterator[str]:
    form = _SQLITE if vendor == "sqlite" else _POSTGRESQL
    for guard in GUARDS:
        if guard.table in tables:
            yield form.format(**guard._asdict(), row="old" if guard.event == "DELETE" else "new")
