"""Numbers that name a patient elsewhere, brought into their normal form."""

import re
from enum import StrEnum
from typing import NamedTuple

from stdnum.gb import nhs

from caseload.errors import Refusal
from caseload.parsing.text import quoted, tidy

_LOCAL = re.compile(r"[A-Z0-9][A-Z0-9/\-]{2,29}")


class Scheme(StrEnum):
    NHS = "nhs-number"
    HOSPITAL = "hospital-number"


class Identifier(NamedTuple):
    """A number in its normal form, and as it was typed."""

    scheme: Scheme
    value: str
    as_typed: str


def read_identifier(scheme: Scheme, text: str) -> Identifier:
    """Raises Refusal as the reader of the scheme does."""
    read = read_nhs_number if scheme is Scheme.NHS else read_hospital_number
    return Identifier(scheme, read(text), tidy(text))


def read_nhs_number(text: str) -> str:
    """Ten digits with a check digit (modulus 11). A row of one digit passes the sum and is refused all the same.

    Raises Refusal `nhs-number-length`, `nhs-number-placeholder`, `nhs-number-check-digit`.
    """
    digits = re.sub(r"[ \-]", "", tidy(text))
    if not re.fullmatch(r"[0-9]{10}", digits):
        raise Refusal("nhs-number-length", f"{quoted(text)} is not an NHS number: {_what_is_amiss(digits)}.")
    if len(set(digits)) == 1:
        raise Refusal("nhs-number-placeholder", f"{quoted(text)} stands for no number: leave it empty if not known.")
    if nhs.checksum(digits) != 0:
        raise Refusal(
            "nhs-number-check-digit", f"{quoted(text)} is no NHS number: its check digit is wrong. Copy it again."
        )
    return digits


def _what_is_amiss(digits: str) -> str:
    if re.fullmatch(r"[0-9.]+e\+?[0-9]+", digits.casefold()):
        return "a spreadsheet has shortened it; format the column as text and enter it again"
    if re.fullmatch(r"[0-9]{9}", digits):
        return "it has 9 digits of 10; a spreadsheet may have dropped a leading 0"
    if digits.isdecimal():
        return f"it has {len(digits)} digits, and there must be 10"
    return "it must have 10 digits and nothing else"


def read_hospital_number(text: str) -> str:
    """A local number: 3 to 30 letters, digits, `/` or `-`, with a digit other than 0. Leading zeros count.

    Raises Refusal `hospital-number-shape`, `hospital-number-placeholder`.
    """
    value = tidy(text).replace(" ", "").upper()
    if not _LOCAL.fullmatch(value):
        shape = "3 to 30 letters, digits, / or -"
        raise Refusal("hospital-number-shape", f"{quoted(text)} is not a hospital number: it must be {shape}.")
    if not re.search(r"[1-9]", value):
        raise Refusal(
            "hospital-number-placeholder", f"{quoted(text)} stands for no number: leave it empty if not known."
        )
    return value
