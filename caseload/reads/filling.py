"""What a plan that fills the diary is made from: the visits to be placed and what is free for them, in eight queries.

Decided here:
- Asked for is the booking list: what is due, needs a visit and has no good place; of it what opens, and is best seen,
  by the last day.
- Follow-ups of a patient whose days overlap are one visit, and each by itself where that finds no place.
- A place that is not good is moved with everything that it serves. One that was taken after the last day because there
  was none before stays: to move it once more is for somebody to decide.
- On days when somebody is booked already, they are not booked a second time.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from caseload.booking.fill import Horizon, Wish
from caseload.booking.needs import Asked as Wanted
from caseload.booking.needs import Need, one_visit, visits_of
from caseload.booking.offers import Now
from caseload.booking.openings import Opening
from caseload.errors import Refusal
from caseload.models import Appointment, FollowUp, Purpose, Site, State
from caseload.reads.calendars import calendars_of
from caseload.reads.openings import BEYOND, need_of, sessions_between
from caseload.reads.to_book import Asked, Row, last_day, rows
from caseload.timetable.terms import FollowUpKind


@dataclass(frozen=True)
class Question:
    """What is to be planned. `before` is the appointment that a visit would move, by the names of its follow-ups."""

    wishes: tuple[Wish, ...]
    openings: tuple[Opening, ...]
    horizon: Horizon
    before: Mapping[tuple[str, ...], int]


def question(first: date, last: date, *, today: date, minute: int) -> Question:
    """Everything unbooked that is best seen by `last`, and the sessions from `first` on; of today from `minute`."""
    asked = [row for row in rows(Asked(), today) if row.earliest_on <= last and row.target_on <= last]
    faulty = _faulty([row for row in asked if row.booked_on and last_day(row, today) >= today])
    before = {wish.need.names: appointment for appointment, wish in faulty.items()}
    wishes = [*faulty.values(), *_unbooked(row for row in asked if not row.booked_on)]
    taken = _booked_days({wish.patient for wish in wishes}, first, last)
    sites = list(Site.objects.select_related("region"))
    calendars = calendars_of(sites)
    return Question(
        wishes=tuple(
            wish._replace(not_on=_others(taken[wish.patient], before.get(wish.need.names))) for wish in wishes
        ),
        openings=sessions_between((site.pk for site in sites), first, last + BEYOND),
        horizon=Horizon(
            Now(first, minute if first == today else -1),
            {site: calendar.open_days(first, last) for site, calendar in calendars.items()},
            last,
        ),
        before=before,
    )


def _faulty(booked: Sequence[Row]) -> dict[int, Wish]:
    """By appointment: one visit for all that it serves and is still due; left out where they have no common day."""
    live = Purpose.objects.filter(follow_up__in=[row.id for row in booked], live=True).values("appointment")
    served = Purpose.objects.filter(appointment__in=live, live=True, follow_up__state=State.DUE)
    found: dict[int, list[FollowUp]] = defaultdict(list)
    for purpose in served.select_related("follow_up__episode", "follow_up__patient").order_by("pk"):
        found[purpose.appointment_id].append(purpose.follow_up)
    wishes: dict[int, Wish] = {}
    for appointment, own in found.items():
        if len({row.episode.site_id for row in own}) == 1 and (need := _one(own)):
            wishes[appointment] = Wish(own[0].patient_id, need)
    return wishes


def _one(own: Sequence[FollowUp]) -> Need | None:
    try:
        return need_of(own)
    except Refusal:
        return None


def _unbooked(asked: Iterable[Row]) -> Iterator[Wish]:
    found: dict[tuple[int, int], list[Row]] = defaultdict(list)
    for row in sorted(asked, key=lambda row: (row.patient_id, row.latest_on, row.id)):
        found[row.patient_id, row.site_id].append(row)
    for (patient, _), own in found.items():
        for joined in visits_of(own, lambda row: (row.earliest_on, row.latest_on, row.minutes)):
            yield Wish(patient, _visit(joined))
            if len(joined) > 1:
                yield from (Wish(patient, _visit([row])) for row in joined)


def _visit(joined: Sequence[Row]) -> Need:
    asked = [
        Wanted(
            row.name, FollowUpKind(row.kind), row.earliest_on, row.target_on, row.latest_on, row.minutes,
            row.in_person, row.provisional,
        )
        for row in joined
    ]  # fmt: skip
    first = joined[0]
    return one_visit(asked, site=first.site_id, therapist=first.therapist_id, interpreter=first.interpreter)


def _booked_days(patients: Iterable[int], first: date, last: date) -> dict[int, dict[int, date]]:
    """By patient the days of live appointments, by their key."""
    found: dict[int, dict[int, date]] = defaultdict(dict)
    live = Appointment.objects.filter(live=True, on__gte=first, on__lte=last, patient__in=set(patients))
    for key, patient, on in live.values_list("pk", "patient_id", "on"):
        found[patient][key] = on
    return found


def _others(days: Mapping[int, date], own: int | None) -> frozenset[date]:
    return frozenset(on for key, on in days.items() if key != own)
