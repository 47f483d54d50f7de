"""What therapy is asked for and what bears on it: the remaining cells of a theatre list row."""

from datetime import date
from typing import NamedTuple

from caseload.exchange.reading import Reading
from caseload.parsing import (
    Priority,
    Risk,
    Risks,
    in_words,
    quoted,
    read_notes,
    read_priority,
    read_risks,
    read_text,
    read_written_date,
    read_yes_no,
)

LONGEST_SITE = 120
LONGEST_NOTES = 2000


class Therapy(NamedTuple):
    site: str
    raised_risk: bool
    risks: tuple[Risk, ...]
    for_therapy: bool
    priority: Priority
    referral_received_on: date | None
    notes: str


def read_therapy(reading: Reading) -> Therapy:
    """Without a word on it, a row is for therapy if it says when the referral was received."""
    received_on = _read_received(reading)
    risks = reading.take("risks", read_risks, Risks((), ()))
    return Therapy(
        site=reading.take("site", lambda text: read_text(text, most=LONGEST_SITE), ""),
        raised_risk=reading.take("raised_risk", read_yes_no, False),
        risks=risks.known,
        for_therapy=reading.take("for_therapy", read_yes_no, received_on is not None),
        priority=reading.take("priority", read_priority, Priority.ROUTINE),
        referral_received_on=received_on,
        notes=_read_notes(reading, risks.unknown),
    )


def _read_received(reading: Reading) -> date | None:
    received_on = reading.take_date("referral_received_on", read_written_date)
    if received_on and received_on > reading.layout.today:
        why = f"{in_words(received_on)} has not come yet"
        reading.refuse("referral_received_on", "referral-ahead", f"{why}: give the day the referral was received.")
    return received_on


def _read_notes(reading: Reading, unknown_risks: tuple[str, ...]) -> str:
    """The notes, and the risks in words that are not known: nothing that was written is lost."""
    notes = reading.text("notes")
    if unknown_risks:
        words = ", ".join(unknown_risks)
        known = ", ".join(risk.replace("-", " ") for risk in Risk)
        reading.doubt("risks", "risk-unknown", f"{quoted(words)} is kept as a note: confirm it, or use: {known}.")
        notes = f"{notes}\nHealing risks on the list: {words}"
    return reading.attempt("notes", lambda: read_notes(notes, most=LONGEST_NOTES), "")
