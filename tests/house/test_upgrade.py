"""An older database is brought up to date with what is in it, triggers and all."""

import os
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from django.db import connection
from django.db.migrations.autodetector import MigrationAutodetector
from django.db.migrations.loader import MigrationLoader

ROOT = Path(__file__).resolve().parent.parent.parent

ROWS = """
PRAGMA ignore_check_constraints = ON; -- one of them asks a function that only Django gives
INSERT INTO caseload_region VALUES (1, 'GB-ENG', 'England & Wales', '2020-01-01', '2027-12-31', 'test');
INSERT INTO caseload_site (id, code, name, region_id, weekdays, telephone)
  VALUES (1, 'c1', 'Fernhollow', 1, '01234', '');
INSERT INTO caseload_patient (id, code, version, given, family, phone, phone_key, email, language, interpreter,
  dressing_allergy, search_key, demo) VALUES (1, 'p1', 1, 'Ivo', 'Harrow', '', '', '', '', 0, '', 'harrow ivo', 0);
INSERT INTO caseload_appointment (id, code, version, patient_id, site_id, "on", minutes, outcome, live, told,
  approved_by, booked_at, ended_why) VALUES (1, 'a1', 1, 1, 1, '2026-04-02', 20, '', 1, 'told', '', '2026-03-20', '');
"""


@pytest.mark.skipif(connection.vendor != "sqlite", reason="about SQLite, which makes a table anew to alter it")
def test_a_database_of_the_first_version_keeps_its_rows_and_gains_every_guard(tmp_path):
    bring_to(tmp_path, "['0001_first']")
    with sqlite3.connect(tmp_path / "caseload.sqlite3") as old:
        old.executescript(ROWS)
    bring_to(tmp_path, "known()")
    with sqlite3.connect(tmp_path / "caseload.sqlite3") as new:
        kept = new.execute("SELECT code, session_id, way, sequence FROM caseload_appointment").fetchall()
        jobs = new.execute("SELECT kind, state FROM caseload_job").fetchall()
        guards = {name for (name,) in new.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'")}
    assert kept == [("a1", None, "in-person", 0)]
    assert jobs == [("rederive", "waiting")], "which fills its waits"
    assert {"caseload_finding_append_only", "caseload_seat_one_session", "caseload_purpose_one_patient"} <= guards


def test_tables_made_at_once_are_those_that_the_steps_come_to():
    at_once, steps = MigrationLoader(None), MigrationLoader(None, replace_migrations=False)
    replaced = at_once.disk_migrations["caseload", "0001_whole"].replaces
    one, ten = at_once.project_state(("caseload", "0001_whole")), steps.project_state(replaced[-1])
    assert len(replaced) == 10 and len(ten.models) == len(one.models) > 50
    assert MigrationAutodetector(ten, one).changes(steps.graph) == {}
    assert MigrationAutodetector(one, ten).changes(steps.graph) == {}


def bring_to(folder: Path, names: str) -> None:
    settings = os.environ | {"CASELOAD_DATA_FOLDER": str(folder), "DATABASE_URL": ""}
    settings |= {"DJANGO_SETTINGS_MODULE": "clinic.settings"}
    program = f"import django; django.setup(); from caseload.management.keeping.state import *; bring_to({names})"
    subprocess.run([sys.executable, "-c", program], cwd=ROOT, env=settings, check=True)
