"""Plans that fill the diary: asked for, made in the background, and accepted line by line.

A plan books nothing. Whoever accepts a line books it as any other visit, untold, since nobody was rung for it; what the
diary has overtaken meanwhile is refused, never booked over. Plans are kept as they were made.
"""

from collections.abc import Generator
from datetime import date, timedelta
from typing import Any, Final

from django.db import transaction
from django.utils import timezone

from caseload.access import Act
from caseload.actions import appointments, jobs
from caseload.actions.act import By, act, trail
from caseload.actions.turns import in_turn
from caseload.booking.clock import local_of
from caseload.booking.fill import LIMIT, Placed, Plan, Unplaced, fill_by_parts, together
from caseload.booking.offers import is_inside
from caseload.errors import Refusal
from caseload.models import Appointment, FillLine, FillPlan, FollowUp, Job, Purpose, Site, State, Told
from caseload.reads.calendars import calendars_of
from caseload.reads.filling import Question, question
from caseload.reads.openings import need_of
from caseload.timetable.plan import Reason
from caseload.timetable.terms import Way
from caseload.wording.dates import say_date

KIND: Final = "fill"
LONGEST: Final = timedelta(weeks=12)


@act(Act.DIARY_FILL)
def ask(*, by: By, first: date, last: date) -> Job:
    """Ask for a plan of the days from `first` to `last`. Raises Refusal as `check_days` does."""
    check_days(first, last, by.today)
    job = jobs.ask(KIND, by=by, first=first.isoformat(), last=last.isoformat())
    days = {"first": (None, first), "last": (None, last)}
    trail(Act.DIARY_FILL, job, by=by, patient_id=None, changed=days)
    return job


def check_days(first: date, last: date, today: date) -> None:
    """Raises Refusal `days-backwards`, `day-past`, `too-long` or `beyond-holidays`, naming what would be right."""
    if last < first:
        raise Refusal("days-backwards", "The last day lies before the first. Change one of them.", field="last")
    if first < today:
        raise Refusal("day-past", "The first day is over. Give today or a later one.", field="first")
    if last - first > LONGEST:
        said = f"A plan reaches twelve weeks at most: give {say_date(first + LONGEST)} or an earlier last day."
        raise Refusal("too-long", said, field="last")
    calendars = calendars_of(Site.objects.select_related("region"))
    until = min((each.covered_until for each in calendars.values()), default=last)
    if last > until:
        said = f"The holiday list ends on {say_date(until)}. Have it extended, or give an earlier last day."
        raise Refusal("beyond-holidays", said, field="last")


@jobs.kind(KIND)
def run(job: Job) -> jobs.Steps:
    made = FillPlan.objects.filter(job=job).first()
    if made is None:
        first, last = (date.fromisoformat(job.asked[name]) for name in ("first", "last"))
        if last < timezone.localdate():
            return "The days asked for were over before it began. Ask for later ones."
        asked = asked_now(first, last)
        plan = yield from in_parts(asked)
        with in_turn(), transaction.atomic():
            jobs.reach(job, planned=True)
            made = keep(plan, asked, job=job)
    return say_made(made)


def asked_now(first: date, last: date) -> Question:
    now = timezone.now()
    today, minute = local_of(now, timezone.get_current_timezone_name())
    return question(max(first, today), last, today=today, minute=minute)


def in_parts(asked: Question, limit: float = LIMIT) -> Generator[tuple[int, int], None, Plan]:
    """Plan part by part; yields (visits done, visits in all) and returns the plan."""
    plans = []
    yield 0, len(asked.wishes)
    for done, of, plan in fill_by_parts(asked.wishes, asked.openings, asked.horizon, limit):
        plans.append(plan)
        yield done, of
    return together(plans)


def keep(plan: Plan, asked: Question, *, job: Job | None = None) -> FillPlan:
    """Store a plan with its lines, in a transaction of the caller's."""
    horizon = asked.horizon
    made = FillPlan.objects.create(
        job=job, by=job.by if job else None, made_at=timezone.now(), first_on=horizon.now.today,
        last_on=horizon.until, cost=plan.cost, bound=min(plan.bound, plan.cost), could_place=plan.could_place,
    )  # fmt: skip
    rows = [*map(_placed, plan.placed), *map(_unplaced, plan.unplaced)]
    for number, row in enumerate(rows, 1):
        row.plan, row.number = made, number
        row.before_id = asked.before.get(tuple(row.names))
    FillLine.objects.bulk_create(rows)
    return made


def say_made(made: FillPlan) -> str:
    """What a plan came to, in a sentence."""
    rows = list(made.lines.values_list("names", "why"))
    placed = sum(len(names) for names, why in rows if not why)
    without = sum(len(names) for names, why in rows if why)
    best = placed == made.could_place and made.cost == made.bound
    proof = "proven the best" if best else "not proven the best in the time there was"
    return f"{placed} of {placed + without} follow-ups have a place, {without} have none; {proof}."


def _placed(each: Placed) -> FillLine:
    offer = each.offer
    return FillLine(
        patient_id=each.wish.patient, names=list(each.wish.need.names), session_id=offer.session, on=offer.on,
        start_minute=offer.start, minutes=offer.minutes, way=each.wish.way, days_late=offer.days_late,
        parts=offer.cost._asdict(), reasons=[_stored(reason) for reason in offer.reasons], next_best=each.next_best,
    )  # fmt: skip


def _unplaced(each: Unplaced) -> FillLine:
    """With the place after its days, if there is one."""
    wish, need = each.wish, each.wish.need
    bare = FillLine(patient_id=wish.patient, names=list(need.names), minutes=need.minutes, way=wish.way)
    row = _placed(Placed(wish, each.after, None)) if each.after else bare
    row.why, row.session_on = [_stored(each.why)], each.session_on
    return row


def _stored(reason: Reason) -> list[object]:
    return [reason.code, *reason.values]


def accept(line: FillLine, *, by: By) -> Appointment:
    """Book the place of a line. Raises Refusal for what the diary has overtaken, and keeps with the line why."""
    try:
        return book_line(line, by=by)
    except Refusal as refusal:
        if refusal.code not in ("not-allowed", "line-decided", "no-place"):
            open_ = FillLine.objects.filter(pk=line.pk, appointment__isnull=True, declined=False)
            open_.update(overtaken=refusal.message[:300])
        raise


@act(Act.DIARY_FILL)
def book_line(line: FillLine, *, by: By) -> Appointment:
    """The same without keeping why it could not be. Raises Refusal `line-decided`, `no-place`, `not-due`,
    `booked-already`, `dates-changed`, and what booking and moving raise."""
    row = _undecided(line)
    if row.session is None:
        raise Refusal("no-place", "There is no place in this line to be accepted.")
    rows = _still_due(row)
    _check_still(row, rows)
    own, start, way = by.unkeyed, row.start_minute or 0, Way(row.way)
    if row.before:
        made = appointments.move(row.before, by=own, session=row.session, start=start, way=way, told=Told.UNTOLD)
    else:
        made = appointments.book(rows, by=own, session=row.session, start=start, way=way, told=Told.UNTOLD)
    _decide(row, by, appointment=made, overtaken="")
    trail(Act.DIARY_FILL, row, by=by, patient_id=row.patient_id, changed={"appointment": (None, made)})
    return made


@act(Act.DIARY_FILL)
def decline(line: FillLine, *, by: By) -> FillLine:
    """Nothing comes of a line. Raises Refusal `line-decided`."""
    row = _undecided(line)
    _decide(row, by, declined=True)
    trail(Act.DIARY_FILL, row, by=by, patient_id=row.patient_id, changed={"declined": (False, True)})
    return row


def _undecided(line: FillLine) -> FillLine:
    """The line, locked before anything else that an act locks."""
    row = FillLine.objects.select_for_update(of=("self",)).select_related("session__site__region", "before__patient")
    found = row.get(pk=line.pk)
    if found.appointment_id or found.declined:
        raise Refusal("line-decided", "Somebody has decided this line meanwhile. Look at the plan again.")
    return found


def _still_due(line: FillLine) -> list[FollowUp]:
    names = [tuple(name.split("/")) for name in line.names]
    known = FollowUp.objects.filter(episode__code__in={code for code, _ in names}, state=State.DUE)
    found = {(row.episode.code, row.key): row for row in known.select_related("episode__site__region", "patient")}
    if any(name not in found for name in names):
        raise Refusal("not-due", "What this visit is for is not due any more, or is done.")
    return [found[name] for name in names]


def _check_still(line: FillLine, rows: list[FollowUp]) -> None:
    """It is booked as it was when the plan was made, and the place keeps what the plan said of its days."""
    live = Purpose.objects.filter(follow_up__in=rows, live=True).values_list("appointment_id", flat=True)
    if set(live) != ({line.before_id} if line.before_id else set()):
        raise Refusal("booked-already", "It has been booked or moved meanwhile.")
    need, on = need_of(rows), line.on
    assert on is not None
    if not is_inside(need, on) and (on < need.earliest or (on - need.latest).days > line.days_late):
        raise Refusal("dates-changed", "Its days have changed since: this place is outside them now.")


def _decide(row: FillLine, by: By, **decided: Any) -> None:
    for name, value in (decided | {"decided_at": by.at, "decided_by": by.staff}).items():
        setattr(row, name, value)
    row.save(update_fields=[*decided, "decided_at", "decided_by"])
