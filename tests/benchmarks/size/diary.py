"""Room in the diary for the copies of every appointment: sessions of a whole day, held by locums.

Appointments that are alike (site, day, what their session takes, how long) lie in a row, one after the other over as
many sessions as they fill. So the place of each follows from its number by arithmetic, and the days on which sessions
are held, and what they take, are the days of before.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from datetime import date
from typing import Final, NamedTuple

from django.db import connection

from caseload.booking.slots import SLOT
from caseload.models import Appointment, Seat, Session, Staff

FIRST_MINUTE: Final = 8 * 60
SLOTS: Final = 30
"""From 08:00 to 18:00."""


class Like(NamedTuple):
    """Appointments that may lie in one session: `takes` and `ways` as text, `n` slots long."""

    on: date
    site: int
    takes: tuple[str, ...]
    ways: tuple[str, ...]
    live: bool
    lost_why: str
    n: int


class Place(NamedTuple):
    """Where the copies of an appointment lie: it is the `j`th of its like, whose sessions begin with key `first` and
    have room for `per` each; `was` is the minute at which the first copy begins."""

    appointment: int
    j: int
    first: int
    per: int
    n: int
    was: int


def likes() -> dict[Like, list[Appointment]]:
    found: dict[Like, list[Appointment]] = defaultdict(list)
    for row in Appointment.objects.filter(session__isnull=False).select_related("session").order_by("id"):
        held = row.session
        assert held
        key = (row.on, row.site_id, tuple(held.takes), tuple(held.ways), held.live, held.lost_why)
        found[Like(*key, -(-row.minutes // SLOT))].append(row)
    return dict(sorted(found.items()))


def make_room(copies: int, first_session: int, first_slot: int) -> Iterator[Place]:
    """Make locums, sessions and slots for so many copies of every appointment, and tell the place of each."""
    sessions: list[Session] = []
    by_day: Counter[date] = Counter()
    held_by: list[tuple[Session, int]] = []
    for like, rows in likes().items():
        per, first = SLOTS // like.n, first_session + len(sessions)
        for _ in range(-(-len(rows) * copies // per)):
            session = _session(like, first_session + len(sessions))
            sessions.append(session)
            held_by.append((session, by_day[like.on]))
            by_day[like.on] += 1
        yield from (Place(row.pk, j, first, per, like.n, row.start_minute or 0) for j, row in enumerate(rows))
    locums = hire(max(by_day.values(), default=0))
    for session, number in held_by:
        session.therapist = locums[number]
    Session.objects.bulk_create(sessions, batch_size=1000)
    _cut_into_slots(first_session, first_slot)


def _session(like: Like, key: int) -> Session:
    hours = {"start_minute": FIRST_MINUTE, "end_minute": FIRST_MINUTE + SLOTS * SLOT}
    return Session(pk=key, site_id=like.site, on=like.on, takes=list(like.takes), ways=list(like.ways), live=like.live,
                   lost_why=like.lost_why, changed=True, **hours)  # fmt: skip


def hire(many: int, called: str = "locum") -> list[Staff]:
    """Therapists who cannot sign in by password; of the demo, like everybody beside them."""
    people = [
        Staff(
            username=f"{called}{number}", name=f"{called.title()} {number}", is_therapist=True, demo=True, password="!"
        )
        for number in range(1, many + 1)
    ]
    return Staff.objects.bulk_create(people)


def _cut_into_slots(first_session: int, first_slot: int) -> None:
    columns = 'id, session_id, therapist_id, "on", minute, live, held_why'
    number = " UNION ALL ".join(f"SELECT {i} AS i" for i in range(SLOTS))
    with connection.cursor() as cursor:
        cursor.execute(
            f"INSERT INTO caseload_slot ({columns}) SELECT {first_slot} + (s.id - {first_session}) * {SLOTS} + m.i, "
            f"s.id, s.therapist_id, s.\"on\", {FIRST_MINUTE} + {SLOT} * m.i, s.live, '' "
            f"FROM caseload_session s CROSS JOIN ({number}) m WHERE s.id >= {first_session}"
        )


def seat_places() -> Iterable[tuple[int, int]]:
    """For each seat its slot, and its place among those of its appointment."""
    taken: Counter[int] = Counter()
    for slot, appointment in Seat.objects.order_by("slot__minute").values_list("slot", "appointment"):
        yield slot, taken[appointment]
        taken[appointment] += 1
