"""Looks in words, as the trail and its file tell them."""

import pytest

from caseload.access.addresses import ADDRESSES, OF_A_PATIENT
from caseload.wording.trail import FORMS, is_taken_away, say_look


@pytest.mark.parametrize(
    ("route", "rows", "said"),
    [
        ("episode", 0, "looked at: episode"),
        ("caseload", 25, "looked at a list: caseload, 25 rows"),
        ("export", 25, "taken away as a file: export, 25 rows"),
        ("job-file", 0, "taken away as a file: work that was asked for"),
        ("patient-file", 0, "looked at: the form to ask for everything held on a patient"),
        ("visit-withdraw", 0, "looked at: the form to withdraw a visit"),
    ],
)
def test_a_look_says_what_was_seen_or_taken_away(route, rows, said):
    assert say_look(route, rows) == said


def test_whoever_only_opens_the_form_of_a_file_takes_nothing_away():
    assert is_taken_away("job-file") and not is_taken_away("patient-file")


def test_every_form_about_a_patient_is_told_as_a_form():
    forms = {name for name, row in ADDRESSES.items() if row.holds in OF_A_PATIENT and row.read and row.read == row.send}
    assert forms - {"to-book-visit"} <= set(FORMS)
