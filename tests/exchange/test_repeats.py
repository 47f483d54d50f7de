from caseload.exchange import repeats
from tests.exchange.lists import OTHER, SOUND, codes, rows_of


def problems(*rows):
    return [codes(row) for row in rows_of(*rows)]


def test_the_same_row_again_is_refused_and_names_the_first():
    first, again, third = rows_of(SOUND, SOUND, SOUND)
    assert first.problems == () and again.refused and third.refused
    assert again.problems[0].message == "Row 2 says the same: this row was left out."
    assert (again.problems[0].other, third.problems[0].other) == (2, 2)


def test_the_same_operation_with_another_fact_is_doubtful_and_names_it():
    row = rows_of(SOUND | {"Suture": "nylon"}, SOUND | {"Suture": "gut"})[1]
    assert codes(row) == [("", "operation-repeated")]
    assert "Row 2 gives the same operation with another suture, material" in row.problems[0].message


def test_an_operation_repeated_inside_a_row_of_several_digits():
    assert problems(SOUND, SOUND | {"Digit": "middle and ring"})[1] == [("", "operation-repeated")]


def test_other_digits_sides_and_dates_of_one_person_are_other_operations():
    others = [SOUND | {"Digit": "thumb"}, SOUND | {"Side": "left"}, SOUND | {"Surgery date": "27/3/2026"}]
    assert problems(SOUND, *others) == [[], [], [], []]


def test_one_person_told_from_number_or_name_in_either_row():
    again = SOUND | {"NHS number": "", "Surname": "ASHDOWN"}
    assert problems(SOUND, again)[1] == [("", "operation-repeated")]


def test_one_number_with_two_names_makes_both_rows_doubtful():
    rows = rows_of(SOUND, OTHER | {"NHS number": SOUND["NHS number"]})
    assert [codes(row) for row in rows] == [[("", "person-twice")], [("", "person-twice")]]
    assert "Row 3 has the same NHS number under another name (Desmond Brackley)" in rows[0].problems[0].message
    assert "Row 2 has the same NHS number under another name (Marian Ashdown)" in rows[1].problems[0].message
    assert all(row.value for row in rows)


def test_near_birth_dates_and_near_names_make_both_rows_doubtful():
    near_day = SOUND | {"NHS number": "", "Date of birth": "15/6/1957", "Digit": "thumb"}
    near_name = SOUND | {"NHS number": "", "First name": "Marion", "Digit": "index"}
    assert problems(SOUND, near_day)[0] == problems(SOUND, near_name)[0] == [("", "person-twice")]


def test_different_persons_are_left_alone():
    assert problems(SOUND, OTHER) == [[], []]


def test_refused_rows_are_compared_with_nothing():
    assert problems(SOUND | {"Digit": "toe"}, SOUND)[1] == []


def test_a_person_without_a_birth_date_is_compared_by_number():
    nameless = SOUND | {"Date of birth": "", "Digit": "thumb"}
    assert problems(nameless, SOUND) == [[("Date of birth", "birth-date-missing")], []]


def test_only_so_many_are_compared_for_each_thing_shared(monkeypatch):
    monkeypatch.setattr(repeats, "_LOOKED_AT", 1)
    crowd = [{"Surname": f"{name}xxx", "NHS number": "", "First name": name} for name in ("Ann", "Bea", "Cleo")]
    rows = rows_of(
        *(SOUND | cells for cells in crowd), SOUND | {"NHS number": "", "First name": "Cle", "Surname": "Cleoxxx"}
    )
    assert codes(rows[3]) == codes(rows[2]) == [("", "person-twice")]
    assert codes(rows[0]) == []
