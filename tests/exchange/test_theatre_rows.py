"""One row of a theatre list, cell by cell and cells together. Defaults and limits are the project's own."""

import json
from datetime import date, timedelta

import pytest

from caseload.exchange.operated import OperatedPatient, Severity
from caseload.exchange.table import Row, Table
from caseload.exchange.theatre_list import read_theatre_list
from caseload.exchange.theatre_row import as_read
from caseload.parsing import Identifier, Phone, Priority, Risk, Scheme, in_words
from caseload.timetable.terms import Digit, Side, Suture, Technique
from tests.exchange.lists import SOUND, TODAY, codes, row_of, rows_of, table, value_of


def test_the_least_that_a_row_says_and_what_is_assumed():
    assert value_of() == OperatedPatient(
        given="Marian", family="Ashdown", born_on=date(1957, 6, 14),
        nhs_number=Identifier(Scheme.NHS, "9990000018", "999 000 0018"), hospital_number=None, phone=None, email="",
        surgery_on=date(2026, 3, 20), side=Side.RIGHT, digits=(Digit.RING,), technique=Technique.OPEN,
        suture=Suture.UNKNOWN, material="", stitches_in=None, surgeon="", site="", raised_risk=False, risks=(),
        for_therapy=False, priority=Priority.ROUTINE, referral_received_on=None, language="", interpreter=False,
        notes="",
    )  # fmt: skip


FULL = {
    "Hospital number": "fh 2211", "Telephone": "07700 900101", "E-mail": "m.ashdown@example.org", "Technique": "open",
    "Suture": "4/0 nylon", "Number of stitches": 3.0, "Surgeon": "P Quill", "Site": "Fernhollow", "Raised risk": "yes",
    "Healing risks": "diabetes; smoking", "For therapy": "no", "Priority": "urgent", "Referral received": "21/3/26",
    "Language": "Polish", "Interpreter": "y", "Notes": "rings back\nafter six",
}  # fmt: skip


def test_all_that_a_row_can_say():
    row = rows_of(SOUND | FULL)[0]
    value = row.value
    assert row.problems == ()
    assert value.hospital_number == Identifier(Scheme.HOSPITAL, "FH2211", "fh 2211")
    assert value.phone == Phone("+447700900101", "07700 900101")
    assert (value.suture, value.material, value.stitches_in) == (Suture.NON_ABSORBABLE, "4/0 nylon", 3)
    assert (value.raised_risk, value.risks) == (True, (Risk.DIABETES, Risk.SMOKING))
    assert (value.for_therapy, value.priority, value.referral_received_on) == (
        False,
        Priority.URGENT,
        date(2026, 3, 21),
    )
    assert (value.language, value.interpreter, value.notes) == ("Polish", True, "rings back\nafter six")


@pytest.mark.parametrize("cells", [{}, FULL])
def test_a_row_survives_a_json_column(cells):
    value = rows_of(SOUND | cells)[0].value
    stored = json.loads(json.dumps(value.as_json()))
    assert OperatedPatient.from_json(stored) == value
    with pytest.raises(ValueError, match="shape 2"):
        OperatedPatient.from_json(stored | {"shape": 2})


def test_cells_as_read_are_kept_as_text_fit_to_store():
    row = row_of(Notes="bell \x07", Telephone=7700900101.0, Surgery_date=date(2026, 3, 20), Suture="")
    assert row.as_read == SOUND | {"Notes": "bell \ufffd", "Telephone": "7700900101", "Surgery date": "2026-03-20"}
    assert codes(row) == [("Notes", "control-character")]


def test_the_cells_of_a_row_as_read_before_its_columns_are_known():
    row = Row(2, ("a", None, 3.0), (None, "b"))
    assert as_read(row, ("x", "y", "z")) == {"x": "a", "z": "3", "beyond column 5": "b"}


def test_a_lone_dash_is_an_empty_cell():
    assert row_of(Suture="-", Telephone="-", Healing_risks="\u2013", Number_of_stitches="-").problems == ()


@pytest.mark.parametrize(
    "cells, column, code",
    [
        ({"Surname": ""}, "Surname", "name-missing"),
        ({"First_name": "M4rian"}, "First name", "name-not-a-name"),
        ({"Date_of_birth": "31/2/1957"}, "Date of birth", "date-impossible"),
        ({"Date_of_birth": "21/3/2026"}, "Date of birth", "born-after-surgery"),
        ({"Date_of_birth": "", "NHS_number": ""}, "Date of birth", "person-unidentified"),
        ({"NHS_number": "999 123 4560"}, "NHS number", "nhs-number-check-digit"),
        ({"Hospital_number": "?"}, "Hospital number", "hospital-number-shape"),
        ({"Surgery_date": ""}, "Surgery date", "surgery-date-missing"),
        ({"Surgery_date": "soon"}, "Surgery date", "date-unreadable"),
        ({"Side": ""}, "Side", "side-missing"),
        ({"Side": "both"}, "Side", "side-both"),
        ({"Side": "left", "Digit": "R ring"}, "Digit", "side-conflict"),
        ({"Digit": ""}, "Digit", "digit-missing"),
        ({"Side": "", "Digit": "RF"}, "Digit", "digit-two-senses"),
        ({"Technique": "keyhole"}, "Technique", "technique-unknown"),
        ({"Suture": "waxed thread"}, "Suture", "suture-unknown-word"),
        ({"Suture": "absorbable", "Material": "nylon"}, "Material", "suture-conflict"),
        ({"Suture": "absorbable", "Material": "x" * 61}, "Material", "text-too-long"),
        ({"Material": "waxed thread"}, "Material", "suture-unknown-word"),
        ({"Suture": "none", "Stitches_in": "3"}, "Stitches in", "stitches-without-suture"),
        ({"Suture": "nylon", "Stitches_in": "0"}, "Stitches in", "suture-without-stitches"),
        ({"Stitches_in": "61"}, "Stitches in", "count-out-of-range"),
        ({"Telephone": "999"}, "Telephone", "phone-not-a-number"),
        ({"E-mail": "ada"}, "E-mail", "email-shape"),
        ({"Surgeon": "x" * 121}, "Surgeon", "text-too-long"),
        ({"Site": "x" * 121}, "Site", "text-too-long"),
        ({"Language": "x" * 61}, "Language", "text-too-long"),
        ({"Notes": "x" * 2001}, "Notes", "text-too-long"),
        ({"Raised_risk": "perhaps"}, "Raised risk", "answer-unknown"),
        ({"For_therapy": "perhaps"}, "For therapy", "answer-unknown"),
        ({"Interpreter": "perhaps"}, "Interpreter", "answer-unknown"),
        ({"Priority": "soon"}, "Priority", "priority-unknown"),
        ({"Referral_received": "2 apr 2026"}, "Referral received", "referral-ahead"),
    ],
)
def test_what_refuses_a_row(cells, column, code):
    row = row_of(**cells)
    assert row.refused
    assert codes(row, Severity.REFUSED) == [(column, code)]
    assert row.problems[0].message.endswith(".")


@pytest.mark.parametrize(
    "cells, column, code",
    [
        ({"Date_of_birth": ""}, "Date of birth", "birth-date-missing"),
        ({"Technique": "perc", "Suture": "nylon"}, "Technique", "stitched-percutaneous"),
        ({"Digit": "ring and middle", "Stitches_in": "3"}, "Stitches in", "stitches-shared"),
        ({"Healing_risks": "no diabetes"}, "Healing risks", "risk-unknown"),
    ],
)
def test_what_makes_a_row_doubtful(cells, column, code):
    row = row_of(**cells)
    assert not row.refused
    assert codes(row) == [(column, code)]


@pytest.mark.parametrize("days, severities", [(0, []), (1, []), (365, []), (366, [Severity.REFUSED])])
def test_a_planned_surgery_lies_at_most_a_year_ahead(days, severities):
    row = row_of(Surgery_date=TODAY + timedelta(days=days))
    assert [problem.severity for problem in row.problems] == severities


@pytest.mark.parametrize("days, codes_", [(731, []), (732, ["surgery-long-ago"])])
def test_a_surgery_of_more_than_two_years_ago_is_doubtful(days, codes_):
    row = row_of(Surgery_date=TODAY - timedelta(days=days))
    assert [problem.code for problem in row.problems] == codes_ and row.value


def test_words_that_are_no_known_risk_are_kept_as_a_note():
    value = value_of(Healing_risks="diabetes, cold hands", Notes="rings back")
    assert value.risks == (Risk.DIABETES,)
    assert value.notes == "rings back\nHealing risks on the list: cold hands"


@pytest.mark.parametrize(
    "cells, closed",
    [
        ({"Material": "nylon"}, (Suture.NON_ABSORBABLE, "nylon")),
        ({"Suture": "?", "Material": "gut"}, (Suture.ABSORBABLE, "gut")),
        ({"Suture": "non-absorbable", "Material": "nylon 4/0"}, (Suture.NON_ABSORBABLE, "nylon 4/0")),
        ({"Suture": "absorbable", "Material": "house brand"}, (Suture.ABSORBABLE, "house brand")),
        ({"Suture": "nylon", "Material": ""}, (Suture.NON_ABSORBABLE, "nylon")),
        ({"Suture": "", "Material": ""}, (Suture.UNKNOWN, "")),
    ],
)
def test_class_and_material_from_one_column_or_two(cells, closed):
    value = value_of(**cells)
    assert (value.suture, value.material) == closed


def test_a_count_that_is_not_known():
    assert value_of(Suture="nylon", Stitches_in="?").stitches_in is None


@pytest.mark.parametrize("digit, side", [("L ring", Side.LEFT), ("LRF", Side.LEFT), ("ring (R)", Side.RIGHT)])
def test_the_side_can_stand_with_the_digit(digit, side):
    assert value_of(Side="", Digit=digit).side is side


def test_without_a_column_of_sides_the_digit_must_name_it():
    cells = {header: cell for header, cell in SOUND.items() if header != "Side"}
    assert codes(rows_of(cells)[0]) == [("Digit", "side-missing")]
    assert rows_of(cells | {"Digit": "R thumb"})[0].value.side is Side.RIGHT


def test_one_row_can_give_several_operations():
    assert value_of(Digit="ring and middle").digits == (Digit.RING, Digit.MIDDLE)


@pytest.mark.parametrize(
    "header, text",
    [
        ("Name", "ASHDOWN, Marian"),
        ("Surname Forename", "Ashdown Marian"),
        ("Forename Surname", "Marian Ashdown"),
        ("Patient", "Marian ASHDOWN"),
    ],
)
def test_the_whole_name_in_one_column(header, text):
    row = rows_of(_nameless() | {header: text})[0]
    assert (row.value.given, row.value.family.title(), row.problems) == ("Marian", "Ashdown", ())


def test_a_name_of_which_nothing_tells_the_order_is_doubtful():
    row = rows_of(_nameless() | {"Name": "Marian Ashdown"})[0]
    assert codes(row) == [("Name", "name-order")]
    assert "given name Marian, family name Ashdown" in row.problems[0].message


def test_half_a_name_in_one_column_is_refused():
    assert codes(rows_of(_nameless() | {"Name": "Ashdown"})[0]) == [("Name", "name-one-word")]


def _nameless() -> dict[str, str]:
    return {header: cell for header, cell in SOUND.items() if header not in ("Surname", "First name")}


def test_a_referral_date_means_therapy_unless_the_list_says_no():
    assert value_of(Referral_received="21/3/26").for_therapy
    assert not value_of(Referral_received="21/3/26", For_therapy="no").for_therapy


def test_cells_beyond_the_last_header_refuse_the_row_even_when_it_comes_back():
    beyond = Table(tuple(SOUND), (Row(2, tuple(SOUND.values()), (None, "pain")),))
    row = read_theatre_list(beyond, today=TODAY).rows[0]
    assert codes(row) == [("", "row-too-wide")]
    assert row.as_read["beyond column 9"] == "pain"
    again = rows_of(SOUND | {"beyond column 9": "pain"})[0]
    assert codes(again) == [("", "row-too-wide")]


def test_every_problem_of_a_row_is_named_at_once():
    row = row_of(Surname="", Side="up", Digit="toe", Telephone="999", Surgery_date="31/2/2026")
    assert [column for column, _ in codes(row)] == ["Surname", "Telephone", "Surgery date", "Side", "Digit"]


def test_a_list_without_rows():
    assert read_theatre_list(table(SOUND)._replace(rows=()), today=TODAY).rows == ()


def test_messages_say_dates_in_words():
    assert in_words(date(2026, 3, 20)) in row_of(Date_of_birth="21/3/2026").problems[0].message
