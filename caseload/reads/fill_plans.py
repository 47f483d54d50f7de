"""Plans that fill the diary, as pages show them: how many lines stand how, and each line beside what is so now."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime
from enum import StrEnum
from typing import Final, NamedTuple

from django.db.models import Count, Exists, OuterRef, Q, QuerySet

from caseload.booking.clock import local_of
from caseload.booking.good import Booked, Fault, faults
from caseload.booking.needs import Need
from caseload.booking.offers import Offer, offers
from caseload.booking.openings import Opening
from caseload.errors import Refusal
from caseload.models import Appointment, Episode, FillLine, FillPlan, FollowUp, Patient, Purpose, State
from caseload.reads.openings import BEYOND, asked_of, need_of, openings_between
from caseload.reads.reach import Reader, seen_by
from caseload.timetable.plan import Reason
from caseload.timetable.terms import Way

MOST_PLANS: Final = 50
MOST_OFFERS: Final = 3


class Fate(StrEnum):
    """What became of a line. One whose appointment was taken back is undecided once more; one without a place is
    `without` until somebody takes the later one that it may have."""

    UNDECIDED = "undecided"
    ACCEPTED = "accepted"
    DECLINED = "declined"
    OVERTAKEN = "overtaken"
    WITHOUT = "without"


def _of_fate(fate: Fate, lines: str = "") -> Q:
    """Asked of lines; with `lines` as the way to them, of plans. `fate_of` says the same of one line."""

    def asked(**wanted: object) -> Q:
        return Q(**{lines + name: value for name, value in wanted.items()})

    if fate is Fate.ACCEPTED:
        return asked(appointment__isnull=False)
    if fate is Fate.DECLINED:
        return asked(appointment__isnull=True, declined=True)
    open_ones = asked(appointment__isnull=True, declined=False)
    if fate is Fate.OVERTAKEN:
        return open_ones & ~asked(overtaken="")
    without = ~asked(why=[]) if fate is Fate.WITHOUT else asked(why=[])
    return open_ones & asked(overtaken="") & without


class Counts(NamedTuple):
    """Follow-ups of a plan: with a place on their days, of these moved from a place that is not good, without one."""

    placed: int
    moved: int
    without: int


class Line(NamedTuple):
    """A line beside its follow-ups as they stand now, and what they are booked for now. `offers` are new ones for a
    line that was overtaken. `same_name` says that others on the caseload have the patient's name."""

    row: FillLine
    follow_ups: Sequence[FollowUp]
    booked: Appointment | None
    same_name: bool
    offers: Sequence[Offer] = ()

    @property
    def fate(self) -> Fate:
        return fate_of(self.row)

    @property
    def earliest(self) -> date:
        return max(row.earliest_on for row in self.follow_ups)

    @property
    def latest(self) -> date:
        return min(row.latest_on for row in self.follow_ups)

    @property
    def provisional(self) -> bool:
        return all(row.provisional for row in self.follow_ups)

    @property
    def moves(self) -> bool:
        return self.row.before_id is not None

    @property
    def stands(self) -> bool:
        """Whether it is all still due, and booked as it was when the plan was made."""
        due = bool(self.follow_ups) and all(row.state == State.DUE for row in self.follow_ups)
        return due and (self.booked.pk if self.booked else None) == self.row.before_id

    @property
    def late(self) -> bool:
        return self.row.days_late > 0

    @property
    def can_be_taken(self) -> bool:
        """Whether it has a place that somebody can still accept or decline."""
        if self.row.session_id is None or self.fate not in (Fate.UNDECIDED, Fate.WITHOUT):
            return False
        return not self.is_later_than_now

    @property
    def is_later_than_now(self) -> bool:
        """Whether what is booked now is late at most, and the place after the window that is named is later still."""
        if self.fate is not Fate.WITHOUT or self.booked is None or self.row.on is None:
            return False
        return self.booked.on <= self.row.on and set(self.faults()) <= {Fault.OUTSIDE_WINDOW}

    def faults(self) -> tuple[Fault, ...]:
        """What is amiss with the present booking."""
        if self.booked is None or not self.follow_ups:
            return ()
        has = self.booked
        booked = Booked(has.on, has.minutes, has.site_id, Way(has.way), bool(has.approved_by), has.interpreter_told)
        site, interpreter = self.follow_ups[0].episode.site_id, self.row.patient.interpreter
        return faults([asked_of(row) for row in self.follow_ups], booked, site=site, interpreter=interpreter)


def fate_of(row: FillLine) -> Fate:
    """What became of a line."""
    if row.appointment_id is not None:
        return Fate.ACCEPTED
    if row.declined:
        return Fate.DECLINED
    if row.overtaken:
        return Fate.OVERTAKEN
    return Fate.WITHOUT if row.why else Fate.UNDECIDED


def reasons_of(stored: Iterable[Sequence[object]]) -> tuple[Reason, ...]:
    """Reasons as a line holds them: the code, then its values."""
    return tuple(Reason(str(code), tuple(values)) for code, *values in stored)


def plans() -> list[FillPlan]:
    """The last plans, the latest first, each with how many lines are `placed`, `unplaced`, and of each fate."""
    tally = {str(fate): Count("lines", filter=_of_fate(fate, "lines__")) for fate in Fate}
    placed, unplaced = Q(lines__why=[]), ~Q(lines__why=[])
    tally |= {"placed": Count("lines", filter=placed), "unplaced": Count("lines", filter=unplaced)}
    rows = FillPlan.objects.select_related("by").annotate(**tally)
    return list(rows.order_by("-made_at", "-id")[:MOST_PLANS])  # counting forgets the order of the table


def counts(plan: FillPlan, reader: Reader | None = None) -> Counts:
    """In one query."""
    placed = moved = without = 0
    for row in chosen(plan, reader=reader).only("names", "why", "before").order_by():
        size = len(row.names)
        without += size if row.why else 0
        placed += 0 if row.why else size
        moved += size if row.before_id and not row.why else 0
    return Counts(placed, moved, without)


def chosen(
    plan: FillPlan, *, site: int | None = None, fate: Fate | None = None, reader: Reader | None = None
) -> QuerySet[FillLine]:
    """The lines of a plan in order, at one site or all, of one fate or all, of patients in reach."""
    rows = seen_by(reader, FillLine.objects.filter(plan=plan)).order_by("number")
    if fate:
        rows = rows.filter(_of_fate(fate))
    return _at_site(rows, site) if site else rows


def _at_site(rows: QuerySet[FillLine], site: int) -> QuerySet[FillLine]:
    """A line without a session is at the site of its first follow-up."""
    codes = {pk: names[0].split("/")[0] for pk, names in rows.filter(session=None).values_list("pk", "names")}
    own = set(Episode.objects.filter(site=site, code__in=set(codes.values())).values_list("code", flat=True))
    return rows.filter(Q(session__site=site) | Q(pk__in=[pk for pk, code in codes.items() if code in own]))


def lines(rows: QuerySet[FillLine], at: datetime) -> list[Line]:
    """Some lines of a plan beside what is so now, in a number of queries that does not grow with them."""
    found = list(rows.select_related("patient", "session", "appointment", "decided_by"))
    follow_ups, twins = _follow_ups(found), _twins(found)
    booked = _booked(row.pk for own in follow_ups.values() for row in own)
    whole = [_line(row, follow_ups[row.pk], booked, row.patient.search_key in twins) for row in found]
    fresh = _new_offers([line for line in whole if line.fate is Fate.OVERTAKEN], at)
    return [line._replace(offers=fresh.get(line.row.pk, ())) for line in whole]


def _line(row: FillLine, follow_ups: Sequence[FollowUp], booked: Mapping[int, Appointment], same_name: bool) -> Line:
    own = (booked[each.pk] for each in follow_ups if each.pk in booked)
    return Line(row, follow_ups, next(own, None), same_name)


def _follow_ups(rows: Iterable[FillLine]) -> dict[int, list[FollowUp]]:
    """What each line is for, in one query."""
    names = {row.pk: [tuple(name.split("/")) for name in row.names] for row in rows}
    codes, keys = ({name[part] for own in names.values() for name in own} for part in (0, 1))
    stored = FollowUp.objects.filter(episode__code__in=codes, key__in=keys)
    by_name = {(row.episode.code, row.key): row for row in stored.select_related("episode__site__region", "patient")}
    return {pk: [by_name[name] for name in own if name in by_name] for pk, own in names.items()}


def _booked(follow_ups: Iterable[int]) -> dict[int, Appointment]:
    """The live appointment of each follow-up that has one, in one query."""
    rows = Purpose.objects.filter(follow_up__in=list(follow_ups), live=True).select_related("appointment")
    return {row.follow_up_id: row.appointment for row in rows}


def _twins(rows: Iterable[FillLine]) -> set[str]:
    """The names that several patients on the caseload have, in one query."""
    named = Patient.objects.filter(search_key__in={row.patient.search_key for row in rows})
    open_ones = named.filter(Exists(Episode.objects.filter(patient=OuterRef("pk"), ended_on__isnull=True)))
    return set(open_ones.order_by().values_list("search_key", flat=True).annotate(n=Count("pk")).filter(n__gt=1))


def _new_offers(overtaken: Iterable[Line], at: datetime) -> dict[int, tuple[Offer, ...]]:
    """The best places as the diary is now for lines that it has overtaken, by line, in one query."""
    needs = {line.row.pk: (line, need) for line in overtaken if (need := _need(line))}
    if not needs:
        return {}
    today = {pk: local_of(at, line.follow_ups[0].episode.site.zone) for pk, (line, _) in needs.items()}
    first = min(on for on, _ in today.values())
    last = max(first, *(need.latest for _, need in needs.values())) + BEYOND
    openings = openings_between({need.site for _, need in needs.values()}, first, last)
    return {pk: _best(line, need, openings, today[pk]) for pk, (line, need) in needs.items()}


def _best(line: Line, need: Need, openings: Iterable[Opening], now: tuple[date, int]) -> tuple[Offer, ...]:
    today, minute = now
    try:
        return offers(need, openings, way=Way(line.row.way), today=today, minute=minute, most=MOST_OFFERS)
    except Refusal:
        return ()


def _need(line: Line) -> Need | None:
    """What a line asks for now; None where that is no visit any more."""
    if not line.follow_ups or any(row.state != State.DUE for row in line.follow_ups):
        return None
    try:
        return need_of(line.follow_ups)
    except Refusal:
        return None
