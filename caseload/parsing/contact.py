"""Telephone numbers (read for Great Britain) and e-mail addresses."""

import re
from typing import NamedTuple

import phonenumbers
from phonenumbers import NumberParseException, PhoneNumber, PhoneNumberFormat

from caseload.errors import Refusal
from caseload.parsing.text import quoted, tidy

_FICTION = re.compile(r"\+447700900\d{3}|\+441632960\d{3}")
"""Set aside for fiction by the regulator (Ofcom), and so unknown to the numbering plan: our demo uses them."""
_HOME = re.compile(r"0[1-9][0-9]{9}")
_TYPED = re.compile(r"[+(]?[0-9()+ .\-]{2,30}(?: ?(?:ext\.?|x|#) ?[0-9]{1,6})?")
_ADDRESS = re.compile(r"[a-z0-9!#$%&'*+/=?^_`{|}~.\-]{1,64}@(?:[a-z0-9](?:[a-z0-9\-]{0,61}[a-z0-9])?\.)+[a-z]{2,63}")
_PHONE_LENGTH = 40
_EMAIL_LENGTH = 254


class Phone(NamedTuple):
    """`value` is the international form with a plus, without an extension; `as_typed` is what staff dial."""

    value: str
    as_typed: str


def read_phone(text: str) -> Phone:
    """Raises Refusal `phone-unreadable`, `phone-not-a-number`."""
    typed = tidy(text)
    if not _TYPED.fullmatch(typed.casefold()) or len(typed) > _PHONE_LENGTH:
        remedy = "write one number, such as 07700 900123, and anything else as a note"
        raise Refusal("phone-unreadable", f"{quoted(text)} is not one telephone number: {remedy}.")
    value = _normal(typed)
    if value is None:
        remedy = "check its digits, and write +44 or another country's code if it is from abroad"
        raise Refusal("phone-not-a-number", f"{quoted(text)} is no number that can be dialled: {remedy}.")
    return Phone(value, typed)


def phone_key(text: str) -> str:
    """The form in which telephone numbers are found, at most 20 characters; the start of a number gives the start of
    its key, so that a search can be typed. Empty for empty; never raises.
    """
    return _normal(text) or _roughly(text)[:20]


def _roughly(text: str) -> str:
    digits = re.sub(r"[^0-9]", "", text)
    if text.strip().startswith("+"):
        return f"+{digits}" if digits else ""
    if digits.startswith("00"):
        return f"+{digits[2:]}"
    return f"+44{digits[1:]}" if digits.startswith("0") else digits


def _normal(typed: str) -> str | None:
    number = _written_at_home(typed) or _parse(typed)
    if number is None:
        return None
    value = phonenumbers.format_number(number, PhoneNumberFormat.E164)
    return value if _FICTION.fullmatch(value) or phonenumbers.is_valid_number(number) else None


def _written_at_home(typed: str) -> PhoneNumber | None:
    """The usual form, 11 digits from 0, without the library's parser: a long list spends most of its time there."""
    digits = typed.replace(" ", "")
    return PhoneNumber(country_code=44, national_number=int(digits)) if _HOME.fullmatch(digits) else None


def _parse(typed: str) -> PhoneNumber | None:
    try:
        return phonenumbers.parse(typed, "GB")
    except NumberParseException:
        return None


def read_email(text: str) -> str:
    """One address, its domain in small letters. Raises Refusal `email-shape`."""
    address = tidy(text)
    local, _, domain = address.rpartition("@")
    address = f"{local}@{domain.lower()}"
    broken = ".." in address or local.startswith(".") or local.endswith(".") or len(address) > _EMAIL_LENGTH
    if broken or not _ADDRESS.fullmatch(address.lower()):
        raise Refusal("email-shape", f"{quoted(text)} is not an e-mail address: write one, such as name@example.org.")
    return address
