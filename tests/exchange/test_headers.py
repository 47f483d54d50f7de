import pytest

from caseload.exchange.headers import SPELLINGS, Missing, match_headers, refuse_unmatched
from caseload.exchange.theatre_list import read_theatre_list
from tests.exchange.lists import SOUND, TODAY, row_of, rows_of, table

SPELT = [(field, spelling) for field, spellings in SPELLINGS.items() for spelling in spellings]


def test_no_spelling_means_two_fields():
    assert len({spelling for _, spelling in SPELT}) == len(SPELT)


@pytest.mark.parametrize("field, spelling", SPELT)
def test_each_spelling_however_dressed(field, spelling):
    for dressed in (spelling, spelling.upper(), spelling.title(), f"*{spelling} :", f" {spelling} (as typed)"):
        assert match_headers([dressed]).columns == {field: dressed}


POINTED = {
    "D.O.B.": "born_on",
    "NHS_No": "nhs_number",
    "E-mail": "email",
    "L / R": "side",
    "Hosp. No.": "hospital_number",
    "Finger(s)": "digit",
    "Surgery date [dd/mm/yyyy]": "surgery_on",
}


@pytest.mark.parametrize("header, field", POINTED.items())
def test_points_and_brackets(header, field):
    assert match_headers([header]).columns == {field: header}


def test_what_means_nothing_is_named_as_unused():
    match = match_headers([*SOUND, "List order", "Reason refused"])
    assert match.unused == ("List order",)
    assert match.missing == () and match.doubled == {}


def test_a_missing_column_comes_with_its_nearest_guesses(refusal):
    headers = ["Surnam", "First name", "Date of brith", "Surgery date", "Digit", "Height"]
    match = match_headers(headers)
    assert match.missing == (
        Missing("family", "family name", ("Surnam",)),
        Missing("born_on", "birth date", ("Date of brith",)),
    )
    refused = refusal(refuse_unmatched, match)
    assert refused.code == "headers-missing"
    assert refused.details == {"missing": match.missing}
    assert "\u2018family name\u2019 (is it \u2018Surnam\u2019?)" in refused.message


def test_a_missing_column_without_a_guess(refusal):
    refused = refusal(refuse_unmatched, match_headers(["Surname", "First name", "DOB", "Surgery date"]))
    assert refused.message == "The list lacks a column \u2018finger\u2019."


def test_one_half_of_the_name_asks_for_the_other():
    names = [missing.field for missing in match_headers(["Name", "First name", "DOB", "Surgery date", "Digit"]).missing]
    assert names == ["family"]


@pytest.mark.parametrize("header", ["Name", "Surname, forename", "Forename Surname"])
def test_one_column_can_hold_the_whole_name(header):
    assert match_headers([header, "DOB", "Surgery date", "Digit"]).missing == ()


def test_an_identifier_can_stand_for_the_birth_date():
    assert match_headers(["Name", "NHS number", "Surgery date", "Digit"]).missing == ()


def test_two_columns_for_one_field_are_refused_until_one_is_chosen(refusal):
    headers = [*SOUND, "DOB"]
    refused = refusal(refuse_unmatched, match_headers(headers))
    assert refused.code == "headers-doubled"
    assert refused.details == {"doubled": {"born_on": ("Date of birth", "DOB")}}
    chosen = match_headers(headers, {"born_on": "DOB"})
    assert chosen.columns["born_on"] == "DOB" and chosen.unused == ("Date of birth",) and not chosen.doubled


def test_remembered_columns_come_first():
    row = SOUND | {"Who": "Corrigan", "Surname": "Ward 4"}
    assert rows_of(row, columns={"family": "Who"})[0].value.family == "Corrigan"


def test_a_column_can_be_left_out():
    assert row_of(Notes="private").value.notes == "private"
    assert rows_of(SOUND | {"Notes": "private"}, columns={"notes": ""})[0].value.notes == ""


def test_a_header_taken_for_one_field_is_not_read_as_another():
    match = match_headers([*SOUND, "Hand"], {"notes": "Side", "side": "Hand"})
    assert (match.columns["notes"], match.columns["side"]) == ("Side", "Hand")


@pytest.mark.parametrize("columns", [{"colour": "Side"}, {"side": "Gone"}])
def test_remembered_columns_that_are_not_there_are_refused(columns, refusal):
    assert refusal(read_theatre_list, table(SOUND), today=TODAY, columns=columns).code == "columns-unknown"
