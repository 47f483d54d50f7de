"""What is known of the days to come: who is away, what is shut or called off, what moved and who was not told yet; and
who has come today."""

from datetime import date, timedelta

from django.db.models import Count, Q

from caseload.actions import absences, appointments, holds, rehousing, service, sessions
from caseload.actions.act import By
from caseload.demo.people import FERNHOLLOW, QUAY_STREET
from caseload.demo.stage import ORIGIN, Stage
from caseload.demo.today import come_in, drop_in, see_one
from caseload.models import Appointment, Session, Slot, Told, UndoStep
from caseload.reads.openings import need_of
from caseload.timetable.terms import Way

OPEN_DAYS = 30
MOVED = 3
A_WHILE = timedelta(minutes=15)
"""So long ago it was done: the news of it may go out."""


def look_ahead(stage: Stage) -> None:
    """After the stories, as of now. Nothing is known of days beyond the holiday list."""
    by = By(stage.lead, max(stage.now - A_WHILE, stage.by(stage.lead, stage.today, 0).at), stage.today, origin=ORIGIN)
    days = stage.calendars[stage.sites[FERNHOLLOW].pk].next_open_days(stage.today, OPEN_DAYS)
    if len(days) < OPEN_DAYS:
        return
    move_some(stage, by)
    keep_some_back(stage, by, days[1])
    away(stage, by, days)
    call_one_off(stage, by)
    shut(stage, by, days)
    sessions.add_session(by=by, therapist=stage.staff["callum"], site=stage.sites[FERNHOLLOW], on=days[6],
                         start=16 * 60, end=17 * 60)  # fmt: skip
    today = to_come(stage, stage.today, stage.today)
    come_in(stage, today)
    see_one(stage, today)
    drop_in(stage)
    UndoStep.objects.all().delete()  # what the demo did is nobody's to take back


def to_come(stage: Stage, first: date, last: date) -> list[Appointment]:
    rows = Appointment.objects.filter(live=True, outcome="", on__gte=first, on__lte=last, session__isnull=False)
    return list(
        rows.select_related("patient", "site", "session__site__region", "session__therapist").order_by(
            "on", "start_minute", "pk"
        )
    )


def move_some(stage: Stage, by: By) -> None:
    """The clinic moves a few visits of the coming days, and nobody has rung them yet."""
    moved = 0
    for held in to_come(stage, stage.today + timedelta(days=2), stage.today + timedelta(days=12)):
        purposes = held.purposes.select_related("follow_up__episode__site", "follow_up__patient")
        served = [each.follow_up for each in purposes]
        found = stage.room.best(need_of(served), Way(held.way), held.on + timedelta(days=1), 0, 1)
        if moved < MOVED and found and not found[0].days_late:
            stage.room.give_back(held)
            session = stage.room.take(found[0])
            appointments.move(held, by=by, session=session, start=found[0].start, told=Told.UNTOLD)
            moved += 1


def keep_some_back(stage: Stage, by: By, on: date) -> None:
    """The last free slot of each session of a day is kept for what is urgent."""
    for session in Session.objects.filter(on=on, live=True):
        free = Slot.objects.filter(session=session, seat__isnull=True).order_by("-minute")[:1]
        if free:
            holds.hold(free, by=by, why="kept for urgent")


def away(stage: Stage, by: By, days: tuple[date, ...]) -> None:
    """One therapist's leave is covered, another's is not."""
    staff = stage.staff
    absences.add_absence(by=by, therapist=staff["priyanka"], starts_on=days[9], ends_on=days[10], reason="leave",
                         cover=staff["callum"])  # fmt: skip
    absences.add_absence(by=by, therapist=staff["temi"], starts_on=days[11], ends_on=days[14], reason="leave")


def call_one_off(stage: Stage, by: By) -> None:
    """The fullest session of the coming week at the smaller site does not take place."""
    tomorrow = stage.today + timedelta(days=1)
    soon = {"on__gte": tomorrow, "on__lte": tomorrow + timedelta(days=7), "site": stage.sites[QUAY_STREET]}
    booked = Count("appointments", filter=Q(appointments__live=True))
    session = Session.objects.filter(live=True, **soon).annotate(booked=booked).order_by("-booked", "on", "pk").first()
    if session:
        rehousing.call_off([session], by=by, why="therapist ill")


def shut(stage: Stage, by: By, days: tuple[date, ...]) -> None:
    """The day of the third or fourth week with most visits: closing is not always convenient."""
    held = Appointment.objects.filter(live=True, outcome="", site=stage.sites[FERNHOLLOW])
    on = max(days[12:20], key=lambda day: held.filter(on=day).count())
    service.add_closure(by=by, site=stage.sites[FERNHOLLOW], starts_on=on, ends_on=on, reason="staff training")
