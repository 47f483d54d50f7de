"""Who was operated on: the cells of a theatre list row that name the person."""

from datetime import date
from typing import NamedTuple

from caseload.exchange.reading import Reading
from caseload.parsing import (
    Identifier,
    Phone,
    Scheme,
    read_birth_date,
    read_email,
    read_identifier,
    read_name,
    read_phone,
    read_text,
    read_yes_no,
    split_name,
)

LONGEST_LANGUAGE = 60
_NAME_ORDER = {"name": None, "name_given_first": False, "name_family_first": True}


class Person(NamedTuple):
    given: str
    family: str
    born_on: date | None
    nhs_number: Identifier | None
    hospital_number: Identifier | None
    phone: Phone | None
    email: str
    language: str
    interpreter: bool


def read_person(reading: Reading) -> Person:
    given, family = _read_names(reading)
    person = Person(
        given=given,
        family=family,
        born_on=reading.take_date("born_on", read_birth_date),
        nhs_number=_read_number(reading, "nhs_number", Scheme.NHS),
        hospital_number=_read_number(reading, "hospital_number", Scheme.HOSPITAL),
        phone=reading.take("phone", read_phone, None),
        email=reading.take("email", read_email, ""),
        language=reading.take("language", lambda text: read_text(text, most=LONGEST_LANGUAGE), ""),
        interpreter=reading.take("interpreter", read_yes_no, False),
    )
    _question_identity(reading, person)
    return person


def _read_names(reading: Reading) -> tuple[str, str]:
    places = reading.layout.places
    if "given" in places and "family" in places:
        return _read_name(reading, "given"), _read_name(reading, "family")
    return _read_whole_name(reading, next(name for name in _NAME_ORDER if name in places))


def _read_name(reading: Reading, name: str) -> str:
    if not reading.text(name):
        reading.attempt(name, lambda: read_name(""), "")
    return reading.take(name, read_name, "")


def _read_whole_name(reading: Reading, name: str) -> tuple[str, str]:
    text = reading.text(name)
    split = reading.attempt(name, lambda: split_name(text, family_first=_NAME_ORDER[name]), None)
    if split is None:
        return "", ""
    if not split.certain:
        read = f"read as given name {split.given}, family name {split.family}"
        reading.doubt(name, "name-order", f"{read}: confirm it, or write the family name first with a comma.")
    return split.given, split.family


def _read_number(reading: Reading, name: str, scheme: Scheme) -> Identifier | None:
    return reading.take(name, lambda text: read_identifier(scheme, text), None)


def _question_identity(reading: Reading, person: Person) -> None:
    if reading.text("born_on"):
        return
    if reading.text("nhs_number") or reading.text("hospital_number"):
        reading.doubt("born_on", "birth-date-missing", "The birth date is missing: add it, or confirm who this is.")
    else:
        remedy = "give a birth date, an NHS number or a hospital number"
        reading.refuse("born_on", "person-unidentified", f"A name alone does not say who this is: {remedy}.")
