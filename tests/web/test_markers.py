"""A patient with marks instead of a name, numbers, addresses and notes: after everything was done with them once, the
marks stand in the tables of the record and in the pages and files meant for them, and nowhere else."""

from collections.abc import Iterator
from datetime import UTC, datetime

import pytest
import time_machine
from django.conf import settings
from django.db import transaction
from pytest_django import DjangoDbBlocker

from caseload.access.addresses import ADDRESSES
from caseload.models import (
    Contact,
    Draft,
    Episode,
    Finding,
    Identifier,
    IntakeRow,
    JobFile,
    Notice,
    Patient,
    TrailEntry,
    Visit,
)
from caseload.wording.letters import SUBJECT
from tests.planted import found_in, lived
from tests.scenario import fernhollow
from tests.web.noticed import Seen
from tests.web.walked import walk

pytestmark = pytest.mark.django_db
RECORD = (Patient, Identifier, Episode, Visit, Finding, Contact, Notice, TrailEntry, IntakeRow)
SCRAP = (Draft, JobFile)
"""What somebody typed and has not saved yet, for whoever typed it, for a week; files that were asked for, for a day."""


@pytest.fixture(scope="module")
def seen(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[Seen]:
    with django_db_blocker.unblock(), transaction.atomic():
        with time_machine.travel(datetime(2026, 4, 1, 9, tzinfo=UTC), tick=False):
            settings.MAIL_URL, was = "folder:", settings.MAIL_URL
            yield walk(lived(fernhollow()))
            settings.MAIL_URL = was
        transaction.set_rollback(True)


def test_the_marks_were_met_on_the_way(seen: Seen):
    """Else nothing below could fail."""
    shown = [name for name in ADDRESSES if seen.statuses.get(name) == 200]
    assert len(shown) > 60 and seen.named > 45
    assert seen.faults.keys() >= {400, 403, 404, 405, 500}
    assert seen.subjects and seen.calendars.count("BEGIN:VEVENT") > 1 and "xlsx" in seen.arguments


def test_in_the_database_only_the_record_holds_them(seen: Seen):
    held = seen.tables.keys()
    assert held <= {table._meta.db_table for table in (*RECORD, *SCRAP)}
    assert held >= {table._meta.db_table for table in (Patient, Identifier, Episode, TrailEntry, Draft)}


def test_no_session_tells_one_to_whoever_has_its_row_and_not_the_key(seen: Seen):
    assert any(found_in(opened) for _, opened in seen.sessions)
    assert {plain for plain, _ in seen.sessions} == {"{}"}


def test_no_address_link_form_or_redirect_holds_one(seen: Seen):
    assert len(seen.urls) > 200 and not [url for url in seen.urls if found_in(url)]


def test_no_title_holds_one(seen: Seen):
    assert len(seen.titles) > 40 and not [title for title in seen.titles if found_in(title)]


def test_no_header_and_no_cookie_holds_one(seen: Seen):
    assert not [header for header in seen.headers if found_in(header)]


def test_no_page_that_says_why_nothing_is_shown_holds_one(seen: Seen):
    assert not {status for status, text in seen.faults.items() if found_in(text)}


def test_no_line_of_the_log_and_no_figure_of_the_metrics_holds_one(seen: Seen):
    assert seen.log.count("\n") > 100 and "ValueError" in seen.log and "caseload_requests_total" in seen.metrics
    assert not found_in(seen.log) and not found_in(seen.metrics)


def test_subjects_of_mails_and_entries_of_calendars_say_only_what_they_may(seen: Seen):
    assert {subject.partition(" {")[0] for subject in seen.subjects} == {str(SUBJECT)}
    assert not found_in("".join(seen.subjects)) and not found_in(seen.calendars)


def test_no_process_is_given_one_and_no_file_is_left(seen: Seen):
    assert not found_in(seen.arguments) and seen.left == []


def test_no_command_says_one(seen: Seen):
    assert "outlived their time" in seen.said and not found_in(seen.said)
