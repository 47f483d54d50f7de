"""The places that were accepted for those who need another."""

from typing import NamedTuple
from uuid import UUID, uuid5

from django.http import QueryDict

from caseload.actions.act import By
from caseload.actions.rehousing import rehouse
from caseload.errors import Refusal
from caseload.models import Appointment, Session
from caseload.web.diary_asked import code_in


class Accepted(NamedTuple):
    """A place that was accepted for an appointment, both named by their codes."""

    code: str
    session: str
    start: int

    def carry_out(self, by: By) -> Appointment:
        """Its own act, under a key made from that of the form. Raises Refusal and Repeated as acts do."""
        appointment = Appointment.objects.select_related("patient", "session").filter(code=self.code).first()
        session = Session.objects.select_related("site__region").filter(code=self.session).first()
        if appointment is None or session is None:
            raise Refusal("no-such-place", "This place is not there any more.")
        own = By(by.staff, by.at, by.today, _key(by.key, self.code))
        return rehouse(appointment, by=own, session=session, start=self.start)


def accepted_of(sent: QueryDict) -> list[Accepted]:
    """The rows that were ticked, or every row that has a place where the button for all was pressed."""
    wanted = sent.getlist("place") if "all" in sent else sent.getlist("accept")
    rows = [text.split("/") for text in wanted]
    return [
        Accepted(code, session, int(start))
        for code, session, start in (row for row in rows if len(row) == 3)
        if code_in(code) and code_in(session) and start.isascii() and start.isdecimal() and len(start) <= 4
    ]


def _key(form: UUID | None, code: str) -> UUID | None:
    return uuid5(form, code) if form else None
