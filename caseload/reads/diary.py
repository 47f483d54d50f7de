"""The diary of some days: the sessions with what stands in them, who comes without one, and which days are closed.

Seven queries, however many sessions and patients there are.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping
from datetime import date, datetime, timedelta
from itertools import groupby
from typing import Any, Final, NamedTuple

from django.db.models import Count, OuterRef, Q, Subquery

from caseload.booking.slots import SLOT
from caseload.models import Appointment, Purpose, Session, Site, Slot, Told
from caseload.reads.calendars import calendars_of
from caseload.reads.reach import Reader, seen_by, unseen_by
from caseload.reads.rehousing import still_waiting
from caseload.timetable.calendar import OpenDays
from caseload.timetable.plan import Reason
from caseload.timetable.terms import Outcome

LOOKED: Final = 31
"""Days looked back and ahead for an open one."""


class Served(NamedTuple):
    """What a visit is for: the follow-up with its window, and the finger."""

    episode: str
    side: str
    digit: str
    surgery_on: date | None
    kind: str
    earliest_on: date
    latest_on: date
    provisional: bool


class Visit(NamedTuple):
    """An appointment with its patient. `start` is None for one without a session. Of somebody else's patient only
    when, how long and what kind is known: then `taken`, and all that names or describes the person is empty.
    `same_name`: another patient of the day, whoever's, has the name."""

    id: int
    code: str
    version: int
    session_id: int | None
    on: date
    start: int | None
    minutes: int
    way: str
    outcome: str
    walk_in: bool
    arrived_at: datetime | None
    told: str
    interpreter_told: bool | None
    patient: str
    family: str
    given: str
    born_on: date | None
    language: str
    search_key: str
    served: tuple[Served, ...] = ()
    taken: bool = False
    same_name: bool = False


class Run(NamedTuple):
    """What stands in a session from `start` to `end`: a visit, slots held back for one reason, or free ones."""

    start: int
    end: int
    visit: Visit | None = None
    held_why: str = ""

    @property
    def slots(self) -> range:
        return range(self.start, self.end, SLOT)


class Sitting(NamedTuple):
    """A session of a day. `to_rehouse` counts those of a lost one who still wait for another place."""

    id: int
    code: str
    on: date
    site_id: int
    therapist_id: int
    therapist: str
    start: int
    end: int
    takes: list[str]
    ways: list[str]
    live: bool
    lost_why: str
    to_rehouse: int | None
    runs: tuple[Run, ...] = ()
    missed: tuple[Visit, ...] = ()

    @property
    def free(self) -> list[int]:
        """The slots that can be booked."""
        return [slot for run in self.runs if not run.visit and not run.held_why for slot in run.slots]

    @property
    def held(self) -> int:
        return sum(len(run.slots) for run in self.runs if run.held_why)

    @property
    def booked(self) -> int:
        return sum(len(run.slots) for run in self.runs if run.visit)


class Page(NamedTuple):
    """One day: `closed` says why a site is shut, by site; `beside` are the visits without a session."""

    on: date
    sittings: list[Sitting]
    beside: list[Visit]
    closed: dict[int, Reason]


class Diary(NamedTuple):
    """`sites` are all there are; `shown` those that were asked for."""

    sites: list[Site]
    shown: list[Site]
    calendars: Mapping[int, OpenDays]
    pages: list[Page]

    def open_day(self, on: date, step: int) -> date:
        """The next day, or with -1 the last before, on which a site shown is open; else just the day beside it."""
        days = (on + timedelta(days=step * count) for count in range(1, LOOKED))
        return next((day for day in days if self._is_open(day)), on + timedelta(days=step))

    def _is_open(self, day: date) -> bool:
        return any(self.calendars[site.pk].is_open(day) for site in self.shown)


_VISIT: Final = (
    "id", "code", "version", "session_id", "on", "start_minute", "minutes", "way", "outcome", "walk_in", "arrived_at",
    "told", "interpreter_told", "patient__code", "patient__family", "patient__given", "patient__born_on",
    "patient__language", "patient__search_key",
)  # fmt: skip
_SERVED: Final = (
    "follow_up__episode__code", "follow_up__episode__side", "follow_up__episode__digit",
    "follow_up__episode__surgery_on", "follow_up__kind", "follow_up__earliest_on", "follow_up__latest_on",
    "follow_up__provisional",
)  # fmt: skip
_SITTING: Final = (
    "id", "code", "on", "site_id", "therapist_id", "therapist__name", "start_minute", "end_minute", "takes", "ways",
    "live", "lost_why", "to_rehouse",
)  # fmt: skip


def diary_of(first: date, last: date, site_code: str = "", reader: Reader | None = None) -> Diary:
    """The days from `first` to `last` at one site, or at all of them where the code is none, as a reader may see them.

    One query more for somebody who reaches only their own patients.
    """
    sites = list(Site.objects.select_related("region"))
    shown = [site for site in sites if site.code == site_code] or sites
    calendars = calendars_of(shown)
    asked = Q(on__gte=first, on__lte=last, site__in=shown)
    sittings = _sittings(asked, reader)
    visits = _visits(asked, [sitting.id for sitting in sittings], reader)
    runs, beside = _runs(sittings, visits), [visit for visit in visits.values() if _is_beside(visit)]
    missed = [visit for visit in visits.values() if visit.outcome == Outcome.DID_NOT_ATTEND]
    whole = [
        sitting._replace(
            runs=runs[sitting.id], missed=tuple(visit for visit in missed if visit.session_id == sitting.id)
        )
        for sitting in sittings
    ]  # fmt: skip
    days = [first + timedelta(days=count) for count in range((last - first).days + 1)]
    return Diary(sites, shown, calendars, [_page(day, whole, beside, shown, calendars) for day in days])


def _is_beside(visit: Visit) -> bool:
    """Without a session. Of somebody else's patient that takes no place, and so is not told."""
    return visit.session_id is None and not visit.taken


def _page(
    on: date, sittings: list[Sitting], beside: list[Visit], shown: list[Site], calendars: Mapping[int, OpenDays]
) -> Page:
    closed = {site.pk: why for site in shown if (why := calendars[site.pk].why_closed(on))}
    own = [sitting for sitting in sittings if sitting.on == on]
    return Page(on, own, [visit for visit in beside if visit.on == on], closed)


def _sittings(asked: Q, reader: Reader | None) -> list[Sitting]:
    waiting = seen_by(reader, still_waiting()).filter(session=OuterRef("pk")).order_by().values("session")
    rows = Session.objects.filter(asked).annotate(
        to_rehouse=Subquery(waiting.annotate(count=Count("pk")).values("count"))
    )
    ordered = rows.order_by("on", "start_minute", "therapist__name", "id")
    return [Sitting(*row) for row in ordered.values_list(*_SITTING)]


def _visits(asked: Q, sessions: list[int], reader: Reader | None) -> dict[int, Visit]:
    """Those that stand, and those of these sessions who did not attend, by id in order of time."""
    missed = Q(session__in=sessions, outcome=Outcome.DID_NOT_ATTEND)
    rows = Appointment.objects.filter(asked & Q(live=True) | missed).order_by("on", "start_minute", "id")
    found, patients = {}, {}
    for *values, patient in rows.values_list(*_VISIT, "patient_id"):
        found[values[0]], patients[values[0]] = Visit(*values), patient
    others = unseen_by(reader, patients.values())
    served: dict[int, list[Served]] = defaultdict(list)
    purposes = Purpose.objects.filter(appointment__in=found).order_by("follow_up__latest_on", "follow_up")
    for appointment, *said in purposes.values_list("appointment", *_SERVED):
        served[appointment].append(Served(*said))
    twins = _same_names(found.values())
    whole = {id: visit._replace(served=tuple(served[id])) for id, visit in found.items()}
    return {
        id: _taken(visit) if patients[id] in others else visit._replace(same_name=(visit.on, visit.search_key) in twins)
        for id, visit in whole.items()
    }


def _same_names(visits: Iterable[Visit]) -> set[tuple[date, str]]:
    """Days and names that more than one patient of the day bears."""
    people = {(visit.on, visit.search_key, visit.patient) for visit in visits}
    return {each for each, bearers in Counter((on, name) for on, name, _ in people).items() if bearers > 1}


def _taken(visit: Visit) -> Visit:
    """Of somebody else's patient: that a place is taken, for how long, how and for what kind of visit."""
    kinds = (Served("", "", "", None, each.kind, visit.on, visit.on, True) for each in visit.served)
    return visit._replace(
        code="", version=0, outcome="", walk_in=False, arrived_at=None, told=Told.TOLD, interpreter_told=None,
        patient="", family="", given="", born_on=None, language="", search_key="", served=tuple(kinds), taken=True,
    )  # fmt: skip


def _runs(sittings: Iterable[Sitting], visits: Mapping[int, Visit]) -> dict[int, tuple[Run, ...]]:
    """What stands in each session that takes place, in order of time."""
    live = [sitting.id for sitting in sittings if sitting.live]
    rows = Slot.objects.filter(session__in=live, live=True).order_by("session", "minute")
    slots = rows.values_list("session", "minute", "held_why", "seat__appointment")
    found: dict[int, tuple[Run, ...]] = defaultdict(tuple)
    for (session, why, seated), group in groupby(slots, key=_same):
        minutes = [row[1] for row in group]
        found[session] += (Run(minutes[0], minutes[-1] + SLOT, visits.get(seated or 0), "" if seated else why),)
    return found


def _same(row: tuple[Any, ...]) -> tuple[int, str, int | None]:
    """Slots that belong together: of one visit, held for one reason, or free."""
    session, _, why, seated = row
    return session, "" if seated else why, seated
