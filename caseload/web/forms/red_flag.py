"""A red flag: to whom it was passed on, and how it ended."""

from caseload.web.forms.fields import LineField
from caseload.web.forms.record import Groups, RecordForm


class EscalateForm(RecordForm):
    to = LineField(
        label="Escalated to", most=120, help_text="Who was told and takes it on: a name, or who was on call."
    )
    groups: Groups = (("Whom it went to", ("to",)),)


class CloseFlagForm(RecordForm):
    escalated_to = LineField(label="Escalated to", most=120, help_text="Who took it on.")
    outcome = LineField(label="Outcome", most=300, help_text="What came of it.")
    groups: Groups = (("Close this red flag", ("escalated_to", "outcome")),)
