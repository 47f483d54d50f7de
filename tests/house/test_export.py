"""What an export says of each table, without a database."""

from datetime import UTC, datetime

import pytest
from django.apps import apps

from caseload.models import Appointment, Feed, Patient, Staff, WeeklySession
from caseload.reads.columns import as_text, columns_of, plain
from caseload.reads.files import FILES, LEFT_OUT

files = pytest.mark.parametrize("file", FILES, ids=lambda file: file.name)


def test_every_table_is_in_an_export_or_left_out_on_purpose():
    written = {file.model.__name__ for file in FILES}
    assert written | LEFT_OUT == {model.__name__ for model in apps.get_app_config("caseload").get_models()}
    assert not written & LEFT_OUT


@files
def test_every_header_is_said_once_and_in_words(file):
    headers = [column.header for column in columns_of(file.model)]
    assert len(set(headers)) == len(headers)
    assert all(header[0].isupper() and "_" not in header for header in headers)


def test_no_password_and_no_key_of_an_address_is_in_it():
    assert not {"password", "last_login"} & {column.path for column in columns_of(Staff)}
    assert Feed.__name__ in LEFT_OUT


def test_a_patient_is_named_wherever_one_is_meant():
    paths = [column.path for column in columns_of(Appointment)]
    assert {"patient__code", "patient__family", "patient__given"} <= set(paths)
    assert "merged_into__code" in [column.path for column in columns_of(Patient)]


def test_hours_weekdays_and_states_are_words():
    say = {column.path: column.say for column in columns_of(WeeklySession)}
    assert (say["start_minute"](540), say["weekday"](0), say["takes"](["wound-check"])) == (
        "09:00",
        "Monday",
        "wound-check",
    )
    assert {column.path: column.say for column in columns_of(Appointment)}["told"]("untold") == "not told yet"


def test_an_instant_is_local_and_says_how_far_it_is_ahead():
    assert plain(datetime(2026, 7, 1, 8, tzinfo=UTC)).isoformat() == "2026-07-01T09:00:00+01:00"


@pytest.mark.parametrize(
    ("value", "text"), [([], ""), ({}, ""), (None, ""), (["a", "b"], "a, b"), ({"é": 1}, '{"é": 1}')]
)
def test_what_a_json_column_holds_is_text(value, text):
    assert as_text(value) == text
