"""Finding a patient by what people type. NHS numbers are of the range that was never issued (999 …)."""

from datetime import date

import pytest

from caseload.errors import Refusal
from caseload.models import Episode, Look, Patient, Staff
from caseload.reads.search import find
from tests.scenario import TODAY, by

ADDRESS = "/search/"


def found(text: str) -> list[str]:
    return [match.family for match in find(text, TODAY).matches]


@pytest.fixture
def people(clinic):
    clinic.patient(
        given="Zoë", family="O'Brien-Łukasz", born_on=date(1958, 1, 11), phone="07700 900118",
        nhs_number="999 000 0018", hospital_number="FH-0042",
    )  # fmt: skip
    clinic.patient(given="Ann", family="Brandt", born_on=date(1970, 5, 5), phone="01632 960001")
    clinic.patient(given="Brandon", family="Marsh", born_on=date(1958, 1, 11))
    return clinic


@pytest.mark.parametrize("text", ["obrien", "O'Br", "o’brien lukasz", "zoe", "Zoë O'Brien", "OBRIEN zo", "lukasz"])
def test_any_part_of_a_name_finds_it_in_either_order_without_accents(people, text):
    assert found(text) == ["O'Brien-Łukasz"]


def test_family_names_that_begin_so_come_before_names_that_hold_it(people):
    assert found("brand") == ["Brandt", "Marsh"]


@pytest.mark.parametrize("text", ["999 000 0018", "9990000018", "999-000-0018", "fh-0042", "FH-0042"])
def test_a_number_is_found_however_it_is_spaced(people, text):
    assert found(text) == ["O'Brien-Łukasz"]


@pytest.mark.parametrize("text", ["07700 900118", "07700900118", "+44 7700 900118", "07700 9001"])
def test_a_telephone_number_is_found_from_its_start(people, text):
    assert found(text) == ["O'Brien-Łukasz"]


@pytest.mark.parametrize("text", ["11/1/1958", "11 jan 1958", "1958-01-11", "11.01.58"])
def test_a_birth_date_finds_everybody_born_that_day(people, text):
    assert found(text) == ["Marsh", "O'Brien-Łukasz"]


@pytest.mark.parametrize("text", ["x", "'", "12", "1-2"])
def test_what_would_find_half_the_clinic_is_asked_for_more(people, text):
    with pytest.raises(Refusal) as refused:
        find(text, TODAY)
    assert refused.value.code == "search-too-short"


def test_two_of_one_name_are_both_marked_and_their_birth_dates_stand_out(clinic, admin):
    for year in (1950, 1970):
        clinic.patient(given="Ann", family="Same", born_on=date(year, 1, 1))
    page = admin.post(ADDRESS, {"text": "same"}).content.decode()
    assert page.count("same name: check the birth date") == 2


def test_a_patient_comes_with_every_episode_open_or_closed(clinic, admin):
    patient = clinic.patient(family="Two")
    clinic.episode(patient)
    clinic.episode(patient, digit="index")
    page = admin.post(ADDRESS, {"text": "two"}).content.decode()
    assert "right ring finger" in page and "right index finger" in page and "day 12" in page


def test_nobody_found_says_what_was_looked_for_and_what_else_to_try(people, admin):
    page = admin.post(ADDRESS, {"text": "01632 960999"}).content.decode()
    assert "Nobody found" in page and "a number and as a telephone number" in " ".join(page.split())


def test_a_merged_patient_is_found_no_more(clinic):
    kept, twin = clinic.patient(family="Kept"), clinic.patient(family="Keptwin")
    type(twin).objects.filter(pk=twin.pk).update(merged_into=kept)
    assert found("kept") == ["Kept"]


def test_more_than_fifty_are_cut_and_said_to_be(clinic):
    for _ in range(52):
        clinic.patient(family="Many")
    answer = find("many", TODAY)
    assert len(answer.matches) == 50 and answer.more


def test_what_was_typed_never_stands_in_an_address(people, admin):
    answer = admin.get(ADDRESS, {"text": "brandt"})
    assert "BRANDT" not in answer.content.decode()


def test_every_page_has_the_search_and_posts_it(admin):
    page = admin.get("/rules/").content.decode()
    assert 'action="/search/" method="post" role="search"' in " ".join(page.split())


def test_the_queries_of_a_search_do_not_grow_with_what_it_finds(clinic, admin, django_assert_max_num_queries):
    for _ in range(20):
        clinic.episode(clinic.patient(family="Many"))
    with django_assert_max_num_queries(5):
        admin.post(ADDRESS, {"text": "many"})


@pytest.fixture
def hundreds(clinic):
    """More of a colleague's than are looked at first, and two of nobody's behind them."""
    colleague = Staff.objects.create(username="colin", name="Colin Marsh", is_therapist=True)
    seen = clinic.episode(clinic.patient(family="Other"), therapist=colleague)
    columns = [field.attname for field in Episode._meta.concrete_fields if field.name not in ("id", "code", "patient")]
    same = {column: getattr(seen, column) for column in columns}
    people = Patient.objects.bulk_create(
        Patient(given="Ann", family="Manyard", search_key="manyard ann") for _ in range(210)
    )
    Episode.objects.bulk_create(Episode(**same, patient=patient) for patient in people)
    clinic.patient(given="Ann", family="Nomany")
    clinic.patient(given="Zoe", family="Manyweather")
    return clinic


def test_where_hundreds_are_found_a_therapist_sees_whom_they_reach_in_the_same_order(hundreds):
    answer = find("many", TODAY, by(hundreds.therapist))
    assert [match.family for match in answer.matches] == ["Manyweather", "Nomany"] and not answer.more


def test_where_hundreds_are_found_a_lead_and_whose_they_are_see_the_first_fifty(hundreds):
    for staff in (hundreds.lead, Staff.objects.get(username="colin")):
        answer = find("many", TODAY, by(staff))
        assert {match.family for match in answer.matches} == {"Manyard"} and len(answer.matches) == 50 and answer.more


def test_of_hundreds_the_names_that_begin_so_come_first_whatever_their_number(hundreds):
    answer = find("ann", TODAY, by(hundreds.lead))
    assert len(answer.matches) == 50 and answer.more
    Patient.objects.filter(family="Nomany").update(search_key="annomany zoe")
    assert [match.family for match in find("ann", TODAY, by(hundreds.lead)).matches][:2] == ["Nomany", "Manyard"]


def test_a_patient_with_several_numbers_and_episodes_has_each_once_and_in_order(clinic):
    patient = clinic.patient(family="Two", nhs_number="999 000 0018", hospital_number="FH-0042")
    first, second = clinic.episode(patient), clinic.episode(patient, digit="index")
    (match,) = find("two", TODAY).matches
    assert sorted(match.numbers) == ["999 000 0018", "FH-0042"]
    assert [hand.code for hand in match.episodes] == [first.code, second.code]


def test_those_found_are_had_as_a_file(people, therapist):
    people.episode(people.patient(family="Brandling"))
    answer = therapist.post(ADDRESS, {"text": "brand", "kind": "csv"})
    rows = answer.content.decode("utf-8-sig").splitlines()
    assert len(rows) == 4 and any("Brandling" in row and "ring finger" in row for row in rows)
    assert Look.objects.filter(route="search-file", rows=3).exists()
