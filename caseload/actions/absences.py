"""Who is away, and what becomes of their sessions: they pass to the cover, or are called off."""

from collections.abc import Iterable
from datetime import date, timedelta

from django.db import IntegrityError, transaction

from caseload.access import Act
from caseload.actions.act import By, act, apply, trail
from caseload.actions.dating import HORIZON, lock_weeks, make
from caseload.actions.rehousing import call_off
from caseload.actions.resettle import resettle
from caseload.actions.sessions import check_therapist
from caseload.errors import Refusal
from caseload.models import Absence, Session, Staff, WeeklySession
from caseload.wording.dates import say_date

ONE_DAY = timedelta(days=1)


@act(Act.ABSENCE_ADD)
def add_absence(
    *, by: By, therapist: Staff, starts_on: date, ends_on: date, reason: str, cover: Staff | None = None
) -> Absence:
    """Days on which a therapist is away. Their sessions of those days pass to the cover where the cover is free; the
    others are called off, and their patients are to be rehoused.

    Raises Refusal `absence-dates`, `why-missing`, `not-a-therapist`, `cover-same` or `absence-twice`.
    """
    _check(therapist, starts_on, ends_on, reason, cover, by.today)
    lock_weeks(therapist=therapist)
    absence = Absence.objects.create(
        therapist=therapist, starts_on=starts_on, ends_on=ends_on, reason=reason.strip(), cover=cover
    )
    changed = {"therapist": (None, therapist.name), "starts_on": (None, starts_on), "ends_on": (None, ends_on)}
    trail(Act.ABSENCE_ADD, absence, by=by, patient_id=None, changed=changed)
    theirs = sessions_of(absence, max(starts_on, by.today), ends_on)
    left = [session for session in theirs if cover is None or not _passed(session, cover, by, Act.ABSENCE_ADD)]
    if left:
        call_off(left, by=by.unkeyed, why=f"{therapist} away: {absence.reason}"[:200])
    _touch(theirs)
    return absence


@act(Act.ABSENCE_END)
def end_absence(absence: Absence, *, by: By, on: date) -> Absence:
    """The last day away is `on`, earlier than was said; before the first one, they were never away. The weekly sessions
    after it are theirs again, and those never made are made; one that was called off waits for a person to hold it
    again. Raises Refusal `absence-dates`.
    """
    absence = Absence.objects.select_for_update(of=("self",)).select_related("therapist").get(pk=absence.pk)
    was, cover = absence.ends_on, absence.cover_id
    if on >= was:
        raise Refusal("absence-dates", f"Give a day before {say_date(was)}.", field="on")
    trail(Act.ABSENCE_END, absence, by=by, patient_id=None, changed={"ends_on": (was, on)})
    free_from = max(on, absence.starts_on - ONE_DAY, by.today - ONE_DAY)
    _shorten(absence, on)
    given = Session.objects.select_for_update(of=("self",)).filter(
        live=True, on__gt=free_from, on__lte=was, weekly__therapist=absence.therapist_id, therapist=cover
    )
    back = [row for row in given.order_by("pk") if _passed(row, absence.therapist, by, Act.ABSENCE_END)]
    weeks = WeeklySession.objects.filter(therapist=absence.therapist_id).select_related("site", "therapist")
    made = make(weeks, first=by.today, last=by.today + HORIZON)
    _touch([*back, *made.sessions])
    return absence


def _shorten(absence: Absence, on: date) -> None:
    if on < absence.starts_on:
        absence.delete()
    else:
        absence.ends_on = on
        absence.save(update_fields=["ends_on"])


def sessions_of(absence: Absence, first: date, last: date) -> list[Session]:
    """The live sessions of the therapist in some days, locked."""
    rows = Session.objects.select_for_update(of=("self",)).select_related("site")
    return list(rows.filter(therapist=absence.therapist_id, live=True, on__gte=first, on__lte=last).order_by("pk"))


def _check(therapist: Staff, starts_on: date, ends_on: date, reason: str, cover: Staff | None, today: date) -> None:
    check_therapist(therapist)
    if ends_on < starts_on:
        raise Refusal("absence-dates", "The last day away is before the first. Correct one of them.", field="ends_on")
    if ends_on < today:
        raise Refusal("absence-dates", "These days are past. Give a last day from today on.", field="ends_on")
    if not reason.strip():
        raise Refusal("why-missing", "Say why in a word or two, such as leave or illness.", field="reason")
    if cover is not None:
        if cover == therapist:
            raise Refusal("cover-same", "Nobody covers for themselves: choose a colleague, or nobody.", field="cover")
        check_therapist(cover, "cover")
    other = Absence.objects.filter(therapist=therapist, starts_on__lte=ends_on, ends_on__gte=starts_on).first()
    if other:
        raise Refusal("absence-twice", f"{therapist} is away from {say_date(other.starts_on)} to "
                      f"{say_date(other.ends_on)} already. Choose days outside those.", field="starts_on")  # fmt: skip


def _passed(session: Session, to: Staff, by: By, name: Act) -> bool:
    """Give a session to somebody, unless they are away or elsewhere at that time."""
    if Absence.objects.filter(therapist=to, starts_on__lte=session.on, ends_on__gte=session.on).exists():
        return False
    try:
        with transaction.atomic():
            session.slots.update(therapist=to)
    except IntegrityError:
        return False
    was = session.therapist.name
    own = session.weekly is not None and session.weekly.therapist_id == to.pk
    apply(session, {"therapist": to, "changed": not own})
    trail(name, session, by=by, patient_id=None, changed={"therapist": (was, to.name)})
    return True


def _touch(sessions: Iterable[Session]) -> None:
    rows = list(sessions)
    if rows:
        resettle({row.site_id for row in rows}, min(row.on for row in rows), max(row.on for row in rows))
