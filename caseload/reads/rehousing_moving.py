"""Places for those whose session fell away, where others may move to make room; who would, and who depends on whom.

Two queries more than where nobody else is moved, however many there are.
"""

from collections.abc import Iterable, Iterator, Mapping
from datetime import date, timedelta
from typing import Final, NamedTuple

from caseload.booking.chains import chains, taken_from
from caseload.booking.openings import Opening
from caseload.booking.rehouse import Kept, Proposal, rehouse_moving
from caseload.models import Session
from caseload.reads.movable import movable, need_to_move, served_by
from caseload.reads.rehousing import Rehoused, Search, lost_of, with_proposals
from caseload.timetable.terms import Way

LIMIT: Final = 5.0
"""Seconds that a page may search."""
ONE_DAY: Final = timedelta(days=1)


class Chain(NamedTuple):
    """Those who need a place and the others who would move for them. `taken` has whose place each of them takes."""

    lost: list[Rehoused]
    others: list[Rehoused]
    taken: Mapping[int, tuple[int, ...]]

    @property
    def rows(self) -> list[Rehoused]:
        return [*self.lost, *self.others]


class Moving(NamedTuple):
    """`alone` are those for whom nobody would move. `able` others up to `last` could have been asked. `proven` is
    whether no more could be inside their days, and no fewer others would do."""

    alone: list[Rehoused]
    chains: list[Chain]
    able: int
    last: date
    proven: bool

    @property
    def inside(self) -> int:
        rows = [*self.alone, *(row for chain in self.chains for row in chain.lost)]
        return sum(row.offer is not None and not row.breach for row in rows)


def rehousing_moving(asked: Search, *, without: Session | None = None, limit: float = LIMIT) -> Moving:
    """As many as can be are inside their days, with as few others moved as can be."""
    others = _others(asked, without)
    found: list[Proposal] = []
    moves: list[Proposal] = []
    proven = True
    for site in asked.sites:
        today, minute = asked.now(site)
        kept = [_kept(row) for row in others.values() if row.need and row.need.site == site]
        answer = rehouse_moving(
            lost_of(asked.of_site(site)), kept, _with_full(asked.openings, others.values()),
            today=today, minute=minute, limit=limit / len(asked.sites),
        )  # fmt: skip
        found += answer.proposals
        moves += answer.moves
        proven = proven and answer.proven
    return Moving(*_apart(asked, others, found, moves), len(others), asked.last, proven)


def _others(asked: Search, without: Session | None) -> dict[int, Rehoused]:
    """Who may move, by appointment."""
    own = {row.appointment.patient_id for row in asked.rows}
    days = {site: asked.now(site)[0] for site in asked.sites}
    rows = movable(days, min(days.values()) + ONE_DAY, asked.last) if days else []
    found = (
        Rehoused(row, served_by(row), need_to_move(row, served_by(row), days[row.site_id]))
        for row in rows
        if row.patient_id not in own and (without is None or row.session_id != without.pk)
    )
    return {row.appointment.pk: row for row in found if row.need}


def _kept(row: Rehoused) -> Kept:
    appointment = row.appointment
    assert row.need and appointment.session_id and appointment.start_minute is not None
    return Kept(appointment.pk, row.need, Way(appointment.way), appointment.session_id, appointment.start_minute)


def _with_full(openings: Iterable[Opening], others: Iterable[Rehoused]) -> Iterator[Opening]:
    """The sessions that have a free slot, and those that would have one if somebody moved."""
    seen = set()
    for each in openings:
        seen.add(each.session)
        yield each
    for row in others:
        session = row.appointment.session
        if session and session.pk not in seen:
            seen.add(session.pk)
            yield Opening(
                session.pk, session.code, session.on, session.site_id, session.therapist_id, session.start_minute,
                session.end_minute, session.kinds, session.by_way, (),
            )  # fmt: skip


def _apart(
    asked: Search, others: Mapping[int, Rehoused], found: list[Proposal], moves: list[Proposal]
) -> tuple[list[Rehoused], list[Chain]]:
    """Those for whom nobody moves, and the chains of the rest. Who would move for nobody stays."""
    lost = with_proposals(asked.rows, found)
    moved = with_proposals([others[each.appointment] for each in moves], moves)
    taken = taken_from([*found, *moves], [_kept(row) for row in moved])
    linked = [_chain(keys, lost, moved, taken) for keys in chains(taken) if len(keys) > 1]
    linked = [chain for chain in linked if chain.lost]
    chained = {row.appointment.pk for chain in linked for row in chain.lost}
    return [row for row in lost if row.appointment.pk not in chained], linked


def _chain(
    keys: tuple[int, ...], lost: Iterable[Rehoused], moved: Iterable[Rehoused], taken: Mapping[int, tuple[int, ...]]
) -> Chain:
    """The others in the order in which one makes room for the next."""
    others = {row.appointment.pk: row for row in moved}
    return Chain(
        [row for row in lost if row.appointment.pk in keys],
        [others[key] for key in keys if key in others],
        {key: taken[key] for key in keys},
    )
