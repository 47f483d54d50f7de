"""What an act on some episodes of a patient brings about: dates and locks that move, and what follows in the diary."""

from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

from caseload.booking.good import Booked, Fault, faults
from caseload.models import Appointment, Episode, FollowUp, Patient, State
from caseload.reads.needless import is_needless, to_come
from caseload.reads.openings import asked_of
from caseload.reads.timetables import hand_timetable, with_sources
from caseload.timetable.moves import Move, moves
from caseload.timetable.plan import Timetable
from caseload.timetable.terms import Way


class Misfit(NamedTuple):
    """A booking that is not a good one, and what is amiss with it."""

    appointment: Appointment
    faults: tuple[Fault, ...]


class Standing(NamedTuple):
    """How some episodes of a patient stand: timetables by episode, what needs a place, bookings that are amiss."""

    timetables: dict[int, Timetable]
    to_book: dict[tuple[int, str, date, date], FollowUp]
    misfits: dict[int, Misfit]
    needless: dict[int, Appointment]


class Consequences(NamedTuple):
    """`moves` by the key of the episode. The rest is what came about only now: follow-ups that need a place, bookings
    that do not fit any more, bookings that are not needed any more."""

    moves: dict[int, tuple[Move, ...]]
    to_book: list[FollowUp]
    misfits: list[Misfit]
    needless: list[Appointment]


def standing_of(patient: Patient, episodes: Sequence[Episode], *, today: date) -> Standing:
    """Read now, in a number of queries that grows with the episodes only."""
    ids = [episode.pk for episode in episodes]
    stored = with_sources(Episode.objects.filter(pk__in=ids).select_related("patient"))
    due = FollowUp.objects.due().filter(episode__in=ids, minutes__gt=0, episode__ended_on=None)
    unbooked = due.exclude(purposes__live=True).select_related("episode__site", "patient")
    booked = to_come(patient.pk, today)
    return Standing(
        timetables={episode.pk: hand_timetable(episode, today=today) for episode in stored},
        to_book={(row.episode_id, row.key, row.earliest_on, row.latest_on): row for row in unbooked},
        misfits={row.pk: misfit for row in booked if (misfit := _misfit(row, patient))},
        needless={row.pk: row for row in booked if is_needless(row)},
    )


def between(before: Standing, after: Standing) -> Consequences:
    """What came about between two looks."""
    return Consequences(
        moves={key: moves(was, after.timetables[key]) for key, was in before.timetables.items()},
        to_book=[row for name, row in after.to_book.items() if name not in before.to_book],
        misfits=[misfit for key, misfit in after.misfits.items() if before.misfits.get(key) != misfit],
        needless=[row for key, row in after.needless.items() if key not in before.needless],
    )


def _misfit(row: Appointment, patient: Patient) -> Misfit | None:
    due = [purpose.follow_up for purpose in row.purposes.all() if purpose.follow_up.state == State.DUE]
    if not due:
        return None
    booked = Booked(row.on, row.minutes, row.site_id, Way(row.way), bool(row.approved_by), row.interpreter_told)
    found = faults(
        [asked_of(each) for each in due], booked, site=due[0].episode.site_id, interpreter=patient.interpreter
    )
    return Misfit(row, found) if found else None
