"""The week: sessions held on the same weekday, and the dated sessions that follow from them.

What has appointments is never lost: a dated session that a change of its week would leave without room for somebody
keeps its own hours and is `changed` from then on.
"""

from collections.abc import Iterable
from datetime import date, timedelta
from typing import Any

from django.db.models import Q

from caseload.access import Act
from caseload.actions.act import By, act, apply, fresh, trail
from caseload.actions.dating import HORIZON, make
from caseload.actions.resettle import resettle
from caseload.actions.sessions import OF_A_DAY, as_stored, check_therapist, left_outside, refit
from caseload.booking.slots import clock
from caseload.booking.weeks import check, clash
from caseload.errors import Refusal
from caseload.models import Absence, Session, Site, Staff, WeeklySession
from caseload.reads.weeks import pattern_of
from caseload.timetable.terms import FollowUpKind, Way
from caseload.wording.dates import say_date

ONE_DAY = timedelta(days=1)
DAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")
SHAPE = ("therapist_id", "site_id", "weekday", "start_minute", "end_minute", "takes", "ways", "starts_on", "ends_on")


@act(Act.WEEK_SAVE)
def save_week(
    *,
    by: By,
    therapist: Staff,
    site: Site,
    weekday: int,
    start: int,
    end: int,
    from_on: date,
    ends_on: date | None = None,
    takes: Iterable[FollowUpKind] = (),
    ways: Iterable[Way] = tuple(Way),
    weekly: WeeklySession | None = None,
    version: int | None = None,
) -> WeeklySession:
    """Add a weekly session, or change one (`weekly`) from a day on; its dated sessions follow at once.

    Raises Refusal `day-past`, `weekday-closed`, `not-a-therapist`, `session-hours`, `session-ways`, `session-dates`,
    `two-places` for one therapist at two places.
    """
    wanted = as_stored({
        "therapist_id": therapist.pk, "site_id": site.pk, "weekday": weekday, "start_minute": start,
        "end_minute": end, "takes": takes, "ways": ways, "starts_on": from_on, "ends_on": ends_on,
    })  # fmt: skip
    check_therapist(therapist)
    _check_days(weekday, site, from_on, by.today)
    old = _locked(weekly, version)
    row, changed = _begun_anew(old, wanted, from_on) if old else _begun(wanted)
    _check_clash(row)
    touched = {row.site_id, old.site_id} if old else {row.site_id}
    _follow(row, from_on)
    make([row], first=by.today, last=by.today + HORIZON)
    trail(Act.WEEK_SAVE, row, by=by, patient_id=None, changed=changed)
    resettle(touched, from_on, by.today + HORIZON)
    return row


@act(Act.WEEK_SAVE)
def end_week(weekly: WeeklySession, *, by: By, version: int | None, on: date) -> WeeklySession:
    """The session is held for the last time by `on`. Later ones go, but for those that have appointments.

    Raises Refusal `day-past` or `session-dates`.
    """
    if on < by.today:
        raise Refusal("day-past", "That day is past. Choose today or a day to come.", field="on")
    fresh(weekly, version)
    weekly.refresh_from_db()
    site = weekly.site_id
    if on < weekly.starts_on:
        raise Refusal("session-dates", f"It begins on {say_date(weekly.starts_on)} only. Choose a last day from then "
                      "on.", field="on")  # fmt: skip
    if weekly.ends_on is not None and on > weekly.ends_on:
        raise Refusal("session-dates", f"It ends on {say_date(weekly.ends_on)} already. Change it to hold it longer.",
                      field="on")  # fmt: skip
    moved = apply(weekly, {"ends_on": on})
    _follow(weekly, on + ONE_DAY)
    trail(Act.WEEK_SAVE, weekly, by=by, patient_id=None, changed=moved)
    resettle({site}, on, by.today + HORIZON)
    return weekly


def _check_days(weekday: int, site: Site, from_on: date, today: date) -> None:
    if from_on < today:
        raise Refusal("day-past", "What was held is not changed. Choose today or a day to come.", field="from_on")
    if str(weekday) not in site.weekdays:
        raise Refusal("weekday-closed", f"{site} does not open on {DAYS[weekday]}s. Choose another weekday.",
                      field="weekday")  # fmt: skip


def _locked(weekly: WeeklySession | None, version: int | None) -> WeeklySession | None:
    if weekly is not None:
        fresh(weekly, version)
        weekly.refresh_from_db()
    return weekly


def _begun(wanted: dict[str, Any]) -> tuple[WeeklySession, dict[str, tuple[object, object]]]:
    row = WeeklySession(**wanted)
    check(pattern_of(row))
    row.save()
    return row, _said({name: (None, value) for name, value in wanted.items()})


def _begun_anew(
    old: WeeklySession, wanted: dict[str, Any], from_on: date
) -> tuple[WeeklySession, dict[str, tuple[object, object]]]:
    """The old pattern until the day before and a new one from then on; changed in place where nothing was held yet."""
    was = {name: getattr(old, name) for name in SHAPE}
    if from_on <= old.starts_on:
        changed = {name: (was[name], now) for name, now in wanted.items() if was[name] != now}
        check(pattern_of(WeeklySession(**wanted)))
        apply(old, wanted)
        old.refresh_from_db()
        return old, _said(changed)
    row, _ = _begun(wanted)
    if old.ends_on is None or old.ends_on >= from_on:
        apply(old, {"ends_on": from_on - ONE_DAY})
    Session.objects.filter(weekly=old, on__gte=from_on).update(weekly=row)
    return row, _said({name: (was[name], now) for name, now in wanted.items() if was[name] != now})


def _said(changed: dict[str, tuple[object, object]]) -> dict[str, tuple[object, object]]:
    """For the trail: staff and sites by name, minutes as clock times, days of the week as words."""
    return {
        name.removesuffix("_id"): (_in_words(name, was), _in_words(name, now)) for name, (was, now) in changed.items()
    }


def _in_words(name: str, value: Any) -> object:
    if value is None:
        return None
    if name == "therapist_id":
        return Staff.objects.get(pk=value).name
    if name == "site_id":
        return Site.objects.get(pk=value).name
    if name in {"start_minute", "end_minute"}:
        return clock(value)
    return DAYS[value] if name == "weekday" else value


def _check_clash(row: WeeklySession) -> None:
    others = WeeklySession.objects.filter(therapist=row.therapist_id, weekday=row.weekday).exclude(pk=row.pk)
    others = others.filter(Q(ends_on__isnull=True) | Q(ends_on__gte=row.starts_on)).select_related("site")
    mine = pattern_of(row)
    for other in others:
        if clash([mine, pattern_of(other)]):
            held = f"{DAYS[other.weekday]}s, {clock(other.start_minute)} to {clock(other.end_minute)}"
            raise Refusal("two-places", f"{row.therapist} holds a session at {other.site} on {held}, already. Change "
                          "that one first, or choose other hours.", field="start")  # fmt: skip


def _follow(row: WeeklySession, first: date) -> None:
    """The dated sessions from a day on become what their week says, as far as their appointments let them."""
    held = row.sessions.select_for_update(of=("self",)).filter(on__gte=first, live=True, changed=False).order_by("pk")
    away = list(Absence.objects.filter(therapist=row.therapist_id, ends_on__gte=first))
    for session in held.select_related("site"):
        if _stays(row, session) and not any(each.starts_on <= session.on <= each.ends_on for each in away):
            _take_over(row, session)
        else:
            _let_go(session)


def _stays(row: WeeklySession, session: Session) -> bool:
    inside = row.starts_on <= session.on and (row.ends_on is None or session.on <= row.ends_on)
    return inside and session.on.weekday() == row.weekday and session.site_id == row.site_id


def _take_over(row: WeeklySession, session: Session) -> None:
    wanted = {name: getattr(row, name) for name in OF_A_DAY}
    was = {name: getattr(session, name) for name in OF_A_DAY}
    _set(session, wanted)
    if left_outside(session):
        _set(session, was)
        apply(session, {"changed": True})
    elif wanted != was:
        session.version += 1
        session.save(update_fields=[*OF_A_DAY, "version"])
        refit(session)


def _set(session: Session, values: dict[str, Any]) -> None:
    for name, value in values.items():
        setattr(session, name, value)


def _let_go(session: Session) -> None:
    """One that is not of the week any more: gone if nobody ever had a place in it."""
    if session.appointments.filter(live=True).exists():
        apply(session, {"changed": True})
    elif session.appointments.exists():
        apply(session, {"live": False, "changed": True, "lost_why": "The week was changed"})
        session.slots.update(live=False)
    else:
        session.delete()
