"""The places that were accepted for those who need another: each of its own, or those of a chain together."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Final, NamedTuple
from uuid import UUID, uuid5

from django.http import QueryDict

from caseload.actions.act import By
from caseload.actions.rehousing import rehouse
from caseload.actions.rehousing_together import Place, rehouse_together
from caseload.errors import Refusal
from caseload.models import Appointment, Session
from caseload.web.diary_asked import code_in

BETWEEN: Final = "+"
"""Between the places of a chain, as the value of its box names them."""


class Accepted(NamedTuple):
    """A place that was accepted for an appointment, both named by their codes. `left` are the code of the session and
    the minute that somebody else gives up for it."""

    code: str
    session: str
    start: int
    left: tuple[str, int] | None = None

    @property
    def codes(self) -> tuple[str, ...]:
        return (self.code,)

    def carry_out(self, by: By) -> None:
        """Its own act, under a key made from that of the form. Raises Refusal and Repeated as acts do."""
        found = _known([self])
        rehouse(found[0].appointment, by=_own(by, self.code), session=found[0].session, start=self.start)


class Together(NamedTuple):
    """The places of a chain: all are taken, or none."""

    places: tuple[Accepted, ...]

    @property
    def codes(self) -> tuple[str, ...]:
        return tuple(each.code for each in self.places)

    def carry_out(self, by: By) -> None:
        """One act. Raises the same."""
        rehouse_together(_known(self.places), by=_own(by, BETWEEN.join(self.codes)))


def accepted_of(sent: QueryDict) -> list[Accepted | Together]:
    """The rows and chains that were ticked, or every row that has a place where the button for all was pressed."""
    rows = [_read(text) for text in sent.getlist("place" if "all" in sent else "accept")]
    chained = [[_read(text) for text in value.split(BETWEEN)] for value in sent.getlist("together")]
    whole = [tuple(each for each in chain if each) for chain in chained if all(chain)]
    return [*(row for row in rows if row and not row.left), *(Together(chain) for chain in whole if _is_chain(chain))]


def _is_chain(chain: tuple[Accepted, ...]) -> bool:
    """Nobody twice, and somebody who was called off among them."""
    return len({each.code for each in chain}) == len(chain) and any(each.left is None for each in chain)


def _read(text: str) -> Accepted | None:
    code, *places = text.split("/")
    known = [
        (session, int(start))
        for session, start in zip(places[::2], places[1::2], strict=False)
        if code_in(session) and start.isascii() and start.isdecimal() and len(start) <= 4
    ]
    if not code_in(code) or len(known) * 2 != len(places) or len(known) not in (1, 2):
        return None
    return Accepted(code, *known[0], left=known[1] if known[1:] else None)


def _known(places: Iterable[Accepted]) -> list[Place]:
    """The rows that the codes name. Raises Refusal `no-such-place`."""
    wanted = list(places)
    codes = {code for each in wanted for code in (each.session, each.left and each.left[0]) if code}
    sessions = {row.code: row for row in Session.objects.select_related("site__region").filter(code__in=codes)}
    rows = Appointment.objects.select_related("patient", "session").filter(code__in=[each.code for each in wanted])
    known = {row.code: row for row in rows}
    if not codes <= sessions.keys() or any(each.code not in known for each in wanted):
        raise Refusal("no-such-place", "This place is not there any more.")
    return [_place(each, known[each.code], sessions) for each in wanted]


def _place(wanted: Accepted, appointment: Appointment, sessions: Mapping[str, Session]) -> Place:
    left = (sessions[wanted.left[0]].pk, wanted.left[1]) if wanted.left else None
    return Place(appointment, sessions[wanted.session], wanted.start, left)


def _own(by: By, name: str) -> By:
    return replace(by, key=_key(by.key, name))


def _key(form: UUID | None, code: str) -> UUID | None:
    return uuid5(form, code) if form else None
