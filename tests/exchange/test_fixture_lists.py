"""The theatre lists in `fixtures/`, each with the habits of another hospital (all of them invented)."""

from datetime import date

import pytest

from caseload.exchange.operated import Severity
from caseload.exchange.table import read_table
from caseload.parsing import Priority
from caseload.timetable.terms import Digit, Side, Suture, Technique
from tests.exchange.lists import FIXTURES, codes, fixture

CLEAN = {"plain.csv": 8, "semicolons.csv": 6, "tabs.txt": 5, "workbook.xlsx": 4}


def first(name):
    return fixture(name).rows[0].value


@pytest.mark.parametrize("name, count", CLEAN.items())
def test_every_row_of_a_clean_list_is_taken(name, count):
    rows = fixture(name).rows
    assert len(rows) == count and all(row.value for row in rows)
    assert {code for row in rows for _, code in codes(row)} <= {"stitches-shared"}


@pytest.mark.parametrize("name", CLEAN)
def test_demo_identities_are_invented(name):
    for value in (row.value for row in fixture(name).rows):
        assert value.nhs_number.value.startswith("999")
        assert value.phone.value.startswith(("+447700900", "+442079460", "+441632960"))
        assert value.email == "" or value.email.endswith("@example.org")


def test_no_person_stands_in_two_lists():
    numbers = [row.value.nhs_number.value for name in CLEAN for row in fixture(name).rows]
    assert len(set(numbers)) == len(numbers) == 23


def test_plain_commas_utf_8_iso_dates():
    value = first("plain.csv")
    assert (value.given, value.family, value.born_on) == ("Marian", "Ashdown", date(1957, 6, 14))
    assert (value.surgery_on, value.side, value.digits) == (date(2026, 3, 20), Side.RIGHT, (Digit.RING,))
    assert (value.for_therapy, value.referral_received_on) == (True, date(2026, 3, 21))


def test_plain_has_two_digits_a_planned_operation_and_a_suture_to_ask_for():
    values = [row.value for row in fixture("plain.csv").rows]
    assert values[4].digits == (Digit.MIDDLE, Digit.RING)
    assert values[5].suture is Suture.UNKNOWN
    assert values[7].surgery_on == date(2026, 4, 13)


def test_semicolons_windows_1252_dotted_dates_and_capitals():
    data = (FIXTURES / "semicolons.csv").read_bytes()
    with pytest.raises(UnicodeDecodeError):
        data.decode("utf-8")
    values = [row.value for row in fixture("semicolons.csv").rows]
    assert [value.family for value in values[:4]] == ["MÜLLER", "GARÇON", "Ó DÁLAIGH", "O\u2019BYRNE"]
    assert values[1].surgery_on == date(2026, 4, 3)
    assert values[0].digits == (Digit.RING,) and values[0].side is Side.LEFT
    assert values[3].notes == "Said: \u201cring me\u201d"


def test_tabs_with_a_byte_order_mark_and_months_in_letters():
    assert (FIXTURES / "tabs.txt").read_bytes().startswith(b"\xef\xbb\xbf")
    values = [row.value for row in fixture("tabs.txt").rows]
    assert values[0].surgery_on == date(2026, 4, 3) and values[0].given == "Tobias"
    assert values[2].born_on == date(1960, 2, 29) and values[2].priority is Priority.URGENT
    assert values[3].digits == (Digit.INDEX, Digit.MIDDLE)
    assert values[4].suture is Suture.ABSORBABLE and values[4].digits == (Digit.LITTLE,)


def test_a_workbook_with_titles_date_cells_numbers_and_a_second_sheet():
    table = read_table((FIXTURES / "workbook.xlsx").read_bytes())
    assert (table.header_number, table.other_sheets) == (4, ("Key",))
    listed = fixture("workbook.xlsx")
    value = listed.rows[0].value
    assert listed.unused == ("List order",) and listed.rows[0].number == 5
    assert (value.surgery_on, value.raised_risk, value.stitches_in) == (date(2026, 3, 20), True, 3)
    assert value.phone.as_typed == "7700900131"
    assert listed.rows[1].value.technique is Technique.PERCUTANEOUS


DIRTY = {
    5: ("month 13", "Date of op", "date-other-order"),
    6: ("31 February", "Date of op", "date-impossible"),
    7: ("29 February of a common year", "D.O.B", "date-impossible"),
    8: ("a weekday that does not fit its date", "Date of op", "date-wrong-weekday"),
    9: ("a date that reads two ways in a column that contradicts itself", "Date of op", "date-reads-two-ways"),
    10: ("a spreadsheet's day number", "Date of op", "date-serial"),
    11: ("a birth that has not come yet", "D.O.B", "birth-date-ahead"),
    12: ("a birth after the surgery", "D.O.B", "born-after-surgery"),
    13: ("126 years old", "D.O.B", "birth-date-too-old"),
    14: ("an NHS number with a wrong check digit (I02)", "NHS No", "nhs-number-check-digit"),
    15: ("zeros for a number (I03)", "NHS No", "nhs-number-placeholder"),
    16: ("a number that a spreadsheet has shortened", "NHS No", "nhs-number-length"),
    17: ("nine digits: a leading zero lost", "NHS No", "nhs-number-length"),
    18: ("no side", "Side", "side-missing"),
    19: ("both hands in one row", "Side", "side-both"),
    20: ("a counted finger", "Finger(s) operated", "digit-counted"),
    21: ("two sides that contradict each other", "Finger(s) operated", "side-conflict"),
    22: ("no digit of a hand", "Finger(s) operated", "digit-unknown"),
    23: ("RF without a side: ring finger or right finger", "Finger(s) operated", "digit-two-senses"),
    25: ("a range of fingers, after a blank row", "Finger(s) operated", "digit-range"),
    26: ("an unknown material", "Skin closure", "suture-unknown-word"),
    27: ("two classes of suture", "Skin closure", "suture-both"),
    28: ("stitches without a suture", "No of stitches", "stitches-without-suture"),
    29: ("a count in letters", "No of stitches", "count-unreadable"),
    30: ("a word beside the telephone number", "Tel no", "phone-unreadable"),
    31: ("a telephone number too short", "Tel no", "phone-not-a-number"),
    32: ("no e-mail address", "E-mail", "email-shape"),
    33: ("surgery in two years", "Date of op", "surgery-too-far-ahead"),
    34: ("no surgery date", "Date of op", "surgery-date-missing"),
    35: ("a person with nothing but a name", "D.O.B", "person-unidentified"),
    36: ("a digit in a name", "Surname", "name-not-a-name"),
    38: ("the same row again", "", "row-repeated"),
    39: ("one NHS number with two birth dates", "", "person-twice"),
    41: ("one name, day and month of birth exchanged", "", "person-twice"),
    42: ("a comma without quotes: shifted cells", "", "row-too-wide"),
    43: ("a line of text below the list", "Forename", "name-missing"),
}
DOUBTFUL = {9, 39, 40, 41}
SOUND = {4, 37}


@pytest.fixture(scope="module")
def dirty():
    return {row.number: row for row in fixture("dirty.csv").rows}


@pytest.mark.parametrize("number", DIRTY, ids=lambda number: DIRTY[number][0])
def test_dirty(dirty, number):
    _, column, code = DIRTY[number]
    assert (column, code) in codes(dirty[number])


def test_the_dirty_list_is_dirty_in_more_than_25_ways():
    assert len(DIRTY) >= 25


def test_of_the_dirty_list_only_the_doubtful_and_the_sound_are_taken(dirty):
    assert {number for number, row in dirty.items() if not row.refused} == DOUBTFUL | SOUND


def test_the_doubtful_rows_carry_doubts_only(dirty):
    for number in DOUBTFUL | SOUND:
        assert codes(dirty[number], Severity.REFUSED) == []


def test_odd_spaces_and_invisible_letters_do_no_harm(dirty):
    value = dirty[37].value
    assert (value.family, value.surgery_on, value.side) == ("Gosford", date(2026, 3, 20), Side.LEFT)
    assert dirty[37].problems == ()


def test_every_other_row_has_but_one_problem(dirty):
    assert [number for number, row in dirty.items() if len(row.problems) > 1] == [43]
