"""What it would take to keep more patients inside their days: chains of those who would make room, to be accepted."""

from collections.abc import Iterable
from typing import NamedTuple

from django.utils.safestring import SafeString, mark_safe

from caseload.reads.rehousing import Rehoused
from caseload.reads.rehousing_moving import Chain
from caseload.web.accepted import BETWEEN
from caseload.web.rehousing_rows import Ticked, row_of
from caseload.web.rows import Teller, full_name


class Shown(NamedTuple):
    """A chain as the page shows it; `value` is that of its box."""

    heading: str
    label: str
    value: str
    ticked: bool
    rows: SafeString


def shown_chains(chains: Iterable[Chain], tell: Teller, ticked: Ticked = None) -> list[Shown]:
    """No chain is ticked unless it was `ticked` before: that others move is for somebody to decide."""
    return [_shown(chain, tell, ticked or ()) for chain in chains]


def _shown(chain: Chain, tell: Teller, ticked: Iterable[str]) -> Shown:
    value = BETWEEN.join([*map(_new, chain.lost), *(f"{_new(row)}/{_held(row)}" for row in chain.others)])
    names = " and ".join(str(row.appointment.patient) for row in chain.lost)
    others = "1 other would move" if len(chain.others) == 1 else f"{len(chain.others)} others would move"
    label = "Accept both together" if len(chain.rows) == 2 else f"Accept all {len(chain.rows)} together"
    outside = sum(row.breach for row in chain.lost)
    label += f", {outside} of them outside the days" if outside else ""
    return Shown(f"For {names}: {others}", label, value, value in ticked, _rows(chain, tell))


def _new(row: Rehoused) -> str:
    return f"{row.appointment.code}/{row.offer.code}/{row.offer.start}" if row.offer else ""


def _held(row: Rehoused) -> str:
    """What somebody else gives up."""
    session = row.appointment.session
    return f"{session.code}/{row.appointment.start_minute}" if session else ""


def _rows(chain: Chain, tell: Teller) -> SafeString:
    names = {row.appointment.pk: _name(row) for row in chain.rows}
    lost = [row_of(row, tell, _why(row, chain, names), "was") for row in chain.lost]
    others = [row_of(row, tell, _why(row, chain, names), "now") for row in chain.others]
    return mark_safe("".join([*lost, *others]))


def _why(row: Rehoused, chain: Chain, names: dict[int, str]) -> str:
    """For whom somebody moves, and whose place they take."""
    key = row.appointment.pk
    takers = [names[other] for other, theirs in chain.taken.items() if key in theirs]
    held = [names[other] for other in chain.taken[key]]
    room = [f"makes room for {' and '.join(takers)}"] if takers else []
    return "<br>".join([*room, *([f"takes the place of {' and '.join(held)}"] if held else [])])


def _name(row: Rehoused) -> str:
    patient = row.appointment.patient
    return full_name(patient.family, patient.given)
