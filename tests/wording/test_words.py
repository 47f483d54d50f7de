"""States, dates and notes in words: every state word has a label, every label is plain."""

from datetime import date
from enum import StrEnum

import pytest
from django.utils import translation

from caseload.timetable import terms
from caseload.wording import label, note, say_date
from caseload.wording.dates import say_days
from caseload.wording.labels import LABELS, NOTES
from tests.timetable.builders import TEN_TO_FOURTEEN, TWO_WEEK

STATES = {each for each in vars(terms).values() if isinstance(each, type) and issubclass(each, StrEnum)}
LISTS = sorted((STATES | LABELS.keys()) - {StrEnum}, key=lambda states: states.__qualname__)


@pytest.mark.parametrize("states", LISTS, ids=lambda states: states.__name__)
def test_every_state_has_a_label_of_its_own(states: type[StrEnum]) -> None:
    labels = [label(state) for state in states]
    assert all(labels) and len(set(labels)) == len(labels)
    assert set(LABELS[states]) == {state.value for state in states}


def test_words_spelt_alike_are_told_apart_by_their_list() -> None:
    assert label(terms.Suture.NONE) == "no stitches" and label(terms.Booking.NONE) == "nothing booked"
    assert label(terms.Technique.OPEN) == "open release" and label(terms.Status.OPEN) == "open"


@pytest.mark.parametrize(
    ("day", "said"),
    [
        (date(2026, 4, 3), "Fri 3 Apr 2026"),
        (date(2026, 12, 28), "Mon 28 Dec 2026"),
        (date(2024, 2, 29), "Thu 29 Feb 2024"),
    ],
)
def test_a_date_in_words(day: date, said: str) -> None:
    assert say_date(day) == said


def test_a_date_follows_the_language_in_use() -> None:
    assert say_date(date(2026, 5, 4)) == "Mon 4 May 2026"
    with translation.override("de"):
        assert say_date(date(2026, 5, 4)) == "Mo 4 Mai 2026"
    assert say_date(date(2026, 5, 4)) == "Mon 4 May 2026"


def test_a_number_of_days() -> None:
    assert [say_days(count) for count in (0, 1, 14)] == ["0 days", "1 day", "14 days"]


def test_a_note_is_known_or_the_clinics_own() -> None:
    assert note("passive-stretch") == "Hold for 10 seconds, 10 times, 3 times a day."
    assert note("With both hands.") == "With both hands." and note("") == ""


@pytest.mark.parametrize("rules", [TWO_WEEK, TEN_TO_FOURTEEN], ids=str)
def test_every_note_of_a_shipped_rule_is_known(rules: object) -> None:
    notes = {rule.note for rule in rules.activities if rule.note}
    assert notes == set(NOTES)
