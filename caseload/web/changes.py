"""What saving a visit would bring about, line by line: what unlocks, what locks again, what moves, what follows in the
diary."""

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from caseload.models import Appointment, Episode, FollowUp
from caseload.reads.consequences import Consequences, Misfit
from caseload.timetable.terms import Change, FollowUpKind
from caseload.wording import label, say_move
from caseload.wording.appointments import say_time
from caseload.wording.dates import say_numbered
from caseload.wording.record import say_hand

SHAPES = {
    Change.UNLOCKED: "clear", Change.RELOCKED: "shut", Change.DONE: "tick", Change.ADDED: "ring", Change.MOVED: "aside",
    Change.DROPPED: "dash",
}  # fmt: skip
"""The shape of each change, in the order in which they are told."""
ORDER = {change: place for place, change in enumerate(SHAPES)}


class Line(NamedTuple):
    shape: str
    text: str


class Told(NamedTuple):
    """The changes under one heading."""

    heading: str
    lines: tuple[Line, ...]


def tell(found: Consequences, episodes: Sequence[Episode]) -> list[Told]:
    """By digit, then the diary; nothing for what does not change."""
    told = [Told(say_hand(episode).capitalize(), tuple(_moves(found, episode))) for episode in episodes]
    return [each for each in (*told, Told("In the diary", tuple(_diary(found)))) if each.lines]


def _moves(found: Consequences, episode: Episode) -> Iterator[Line]:
    moves = found.moves.get(episode.pk, ())
    unlocked = {move.item for move in moves if move.change is Change.UNLOCKED}  # told with the day that it has now
    told = (move for move in moves if move.change is not Change.MOVED or move.item not in unlocked)
    for move in sorted(told, key=lambda move: ORDER[move.change]):
        yield Line(SHAPES[move.change], say_move(move, episode.surgery_on))


def _diary(found: Consequences) -> Iterator[Line]:
    yield from (Line("tri", f"To be booked: {_say_due(row)}.") for row in found.to_book)
    yield from (Line("aside", _say_misfit(misfit)) for misfit in found.misfits)
    yield from (Line("dash", _say_needless(row)) for row in found.needless)


def _say_due(row: FollowUp) -> str:
    since = row.episode.surgery_on
    window = f"{say_numbered(row.earliest_on, since)} to {say_numbered(row.latest_on, since)}"
    return f"{label(FollowUpKind(row.kind))}, {say_hand(row.episode)}, {window}"


def _say_misfit(misfit: Misfit) -> str:
    why = ", ".join(label(fault) for fault in misfit.faults)
    return f"The appointment of {say_time(misfit.appointment)} does not fit any more: {why}."


def _say_needless(row: Appointment) -> str:
    return f"The appointment of {say_time(row)} is not needed any more: cancel it, or keep it for something else."
