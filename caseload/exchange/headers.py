"""Which column of a list holds what: header words in many spellings, matched to the fields of a theatre list."""

import re
from collections.abc import Mapping, Sequence
from difflib import get_close_matches
from typing import NamedTuple

from caseload.errors import Refusal
from caseload.parsing import plain, quoted

SPELLINGS: Mapping[str, tuple[str, ...]] = {
    "given": ("given name", "first name", "forename", "forenames", "given names", "first names", "given"),
    "family": ("family name", "surname", "last name", "family"),
    "name": ("patient name", "name", "patient", "full name", "name of patient"),
    "name_given_first": ("first name surname", "forename surname", "given name family name", "first name and surname"),
    "name_family_first": ("surname first name", "surname forename", "surname forenames", "surname and first name",
                          "surname and forename", "family name given name"),
    "born_on": ("birth date", "date of birth", "born", "dob", "d o b", "born on", "birthdate"),
    "nhs_number": ("nhs number", "nhs no", "nhs", "nhs num", "nhsno"),
    "hospital_number": ("hospital number", "hospital no", "hosp no", "hospital id", "patient number", "patient no",
                        "patient id", "unit number", "record number", "case number", "mrn"),
    "phone": ("telephone", "phone", "mobile", "tel", "telephone number", "telephone no", "phone number", "phone no",
              "mobile number", "mobile no", "tel no", "contact number", "contact telephone"),
    "email": ("e mail", "email", "mail", "email address", "e mail address"),
    "surgery_on": ("surgery date", "date of surgery", "operation date", "date of operation", "op date", "surgery",
                   "surgery on", "operated on", "theatre date", "procedure date", "date of procedure", "date of op"),
    "side": ("side", "hand", "laterality", "left right", "left or right", "l r", "r l"),
    "digit": ("finger", "digit", "digits", "fingers", "operated digit", "digit operated", "finger operated",
              "hand and finger", "hand and digit", "side and finger", "side and digit", "finger or thumb"),
    "technique": ("technique", "method", "open or percutaneous", "type of release"),
    "suture": ("suture", "sutures", "skin closure", "closure", "suture type", "skin suture", "closed with"),
    "material": ("suture material", "material", "stitch material"),
    "stitches_in": ("number of stitches", "no of stitches", "stitches in", "stitch count", "number of sutures",
                    "no of sutures", "stitches put in"),
    "surgeon": ("surgeon", "operating surgeon", "operator", "operated by", "consultant", "surgeon name"),
    "site": ("site", "clinic", "therapy site", "location"),
    "raised_risk": ("raised risk", "raised healing risk", "slow healing"),
    "risks": ("healing risks", "risks", "risk factors", "conditions", "medical conditions"),
    "for_therapy": ("for therapy", "therapy", "hand therapy", "therapy referral", "referred for therapy"),
    "priority": ("priority", "urgency", "urgent"),
    "referral_received_on": ("referral received", "referral date", "date of referral", "referred on", "received on",
                             "referral received on", "date referral received"),
    "language": ("language", "preferred language", "language spoken"),
    "interpreter": ("interpreter", "interpreter needed", "needs interpreter", "interpreter required"),
    "notes": ("notes", "comments", "comment", "note", "remarks"),
}  # fmt: skip
"""Field -> header words, the pages' own first (common practice). `name…` stands for `given` and `family` together."""

REASON = "Reason refused"
"""The column that the file of refused rows adds, and that is passed over when it comes back."""

_FIELD = {spelling: field for field, spellings in SPELLINGS.items() for spelling in spellings}
_WHOLE_NAME = ("name", "name_given_first", "name_family_first")
_REQUIRED = ("born_on", "surgery_on", "digit")
_IDENTIFIED = ("born_on", "nhs_number", "hospital_number")


class Missing(NamedTuple):
    """A column that must be there: what it is usually called, and headers of the list that come near."""

    field: str
    usual: str
    guesses: tuple[str, ...]


class HeaderMatch(NamedTuple):
    """`columns`: field -> header. `unused`: headers that mean no field. `doubled`: field -> headers that claim it."""

    columns: Mapping[str, str]
    missing: tuple[Missing, ...]
    unused: tuple[str, ...]
    doubled: Mapping[str, tuple[str, ...]]


def match_headers(headers: Sequence[str], columns: Mapping[str, str] | None = None) -> HeaderMatch:
    """Find the column of each field; what `columns` says (field -> header) comes first, an empty header means "none".

    Raises Refusal `columns-unknown` where `columns` names a field that is none or a header that is not in the list.
    """
    stated = _checked(headers, columns or {})
    taken = {header for header in stated.values() if header}
    claims: dict[str, list[str]] = {}
    for header in headers:
        field = _field_of(header)
        if field and header not in taken and field not in stated:
            claims.setdefault(field, []).append(header)
    found = {field: claimed[0] for field, claimed in claims.items()} | {f: h for f, h in stated.items() if h}
    doubled = {field: tuple(claimed) for field, claimed in claims.items() if len(claimed) > 1}
    unused = tuple(h for h in headers if h not in found.values() and not passed_over(h))
    return HeaderMatch(found, _missing(found, unused), unused, doubled)


def passed_over(header: str) -> bool:
    return plain(header) == plain(REASON)


def refuse_unmatched(match: HeaderMatch) -> None:
    """Raises Refusal `headers-missing` or `headers-doubled`, naming each column and its nearest guesses."""
    if match.missing:
        wanted = "; ".join(_wanted(missing) for missing in match.missing)
        raise Refusal("headers-missing", f"The list lacks {wanted}.", missing=match.missing)
    if match.doubled:
        field, claimed = next(iter(match.doubled.items()))
        both = " and ".join(quoted(header) for header in claimed)
        remedy = "say which one to read"
        raise Refusal("headers-doubled", f"{both} both read as {SPELLINGS[field][0]}: {remedy}.", doubled=match.doubled)


def _wanted(missing: Missing) -> str:
    near = " or ".join(quoted(guess) for guess in missing.guesses)
    return f"a column {quoted(missing.usual)}" + (f" (is it {near}?)" if near else "")


def _checked(headers: Sequence[str], columns: Mapping[str, str]) -> Mapping[str, str]:
    for field, header in columns.items():
        if field not in SPELLINGS or header and header not in headers:
            what = f"{quoted(field)} is read from {quoted(header)}"
            raise Refusal("columns-unknown", f"{what}, which this list does not have: choose its columns anew.")
    return columns


def _field_of(header: str) -> str | None:
    """By all its words, else by those outside brackets: `Surgery date (dd/mm/yyyy)`."""
    even = _even(header)
    return _FIELD.get(even) or _FIELD.get(_even(re.sub(r"\(.*?\)|\[.*?\]", " ", header)))


def _even(header: str) -> str:
    return re.sub(r"[\W_]+", " ", plain(header)).strip()


def _missing(found: Mapping[str, str], unused: Sequence[str]) -> tuple[Missing, ...]:
    required = [field for field in _REQUIRED if field not in found]
    halves = [field for field in ("given", "family") if field not in found]
    if len(halves) == 1 or not any(field in found for field in _WHOLE_NAME):
        required = halves + required
    if "born_on" in required and any(field in found for field in _IDENTIFIED):
        required.remove("born_on")
    return tuple(Missing(field, SPELLINGS[field][0], _guesses(field, unused)) for field in required)


def _guesses(field: str, unused: Sequence[str]) -> tuple[str, ...]:
    even = {_even(header): header for header in unused}
    near = [name for spelling in SPELLINGS[field] for name in get_close_matches(spelling, even, n=2, cutoff=0.7)]
    return tuple(dict.fromkeys(even[name] for name in near))[:3]
