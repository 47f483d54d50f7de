"""The one home for words: states, dates and reasons as plain British English, open to translation."""

from caseload.wording.dates import say_date
from caseload.wording.labels import label, note
from caseload.wording.moves import say_move
from caseload.wording.reasons import sentence

__all__ = ["label", "note", "say_date", "say_move", "sentence"]
