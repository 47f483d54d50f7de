"""What people type, read into values: one home for forms and lists. Every reader refuses with the remedy.

Each `read_…` takes text and returns a value, or raises `Refusal(code, message)`; none asks a clock.
"""

from caseload.parsing.answers import (
    Priority,
    Risk,
    Risks,
    read_count,
    read_priority,
    read_risks,
    read_technique,
    read_yes_no,
)
from caseload.parsing.contact import Phone, phone_key, read_email, read_phone
from caseload.parsing.dates import TypedDate, read_birth_date, read_date, read_written_date, refuse_born_after
from caseload.parsing.day_forms import in_words
from caseload.parsing.hands import HandDigits, read_digits, read_side
from caseload.parsing.identifiers import Identifier, Scheme, read_hospital_number, read_identifier, read_nhs_number
from caseload.parsing.names import read_name, search_key, split_name
from caseload.parsing.numbers import read_decimal, read_whole
from caseload.parsing.sutures import ClosedWith, read_suture
from caseload.parsing.text import is_blank, plain, quoted, read_notes, read_text, tidy

__all__ = [
    "ClosedWith", "HandDigits", "Identifier", "Phone", "Priority", "Risk", "Risks", "Scheme",
    "TypedDate", "in_words", "is_blank", "phone_key", "plain", "quoted", "read_birth_date", "read_count",
    "read_date", "read_decimal", "read_digits", "read_email", "read_hospital_number", "read_identifier",
    "read_name", "read_nhs_number", "read_notes", "read_phone", "read_priority", "read_risks", "read_side",
    "read_suture", "read_technique", "read_text", "read_whole", "read_written_date", "read_yes_no",
    "refuse_born_after", "search_key", "split_name", "tidy",
]  # fmt: skip
