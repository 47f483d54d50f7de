"""What becomes of a notice: claimed, sent, failed, rung, withdrawn; each recorded once.

Sending is done elsewhere (`outreach.post`): it claims a row, and records here what came of it.
"""

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Final

from django.db.models import F, Q, QuerySet

from caseload.access import Act
from caseload.actions import contacts
from caseload.actions.act import By, act, trail
from caseload.actions.in_step import bring_in_step, gave_up
from caseload.actions.turns import in_turn
from caseload.booking.notices import REMINDERS, Channel, in_hours
from caseload.errors import Refusal
from caseload.models import Appointment, Notice, NoticeState, Reached, Site
from caseload.models.contacts import How
from caseload.reads.notices_wanted import key_of, wanted_of, with_patients

CLAIM: Final = timedelta(minutes=2)
MOST_TRIES: Final = 5
AGAIN: Final = tuple(timedelta(minutes=minutes) for minutes in (5, 20, 80, 320))
"""How long after the first, second… failure it is tried again."""
TOO_LATE: Final = "its time had passed"


def still_wanted(notice: Notice) -> bool:
    """Whether a waiting notice still applies, derived anew: asked once more just before it goes out."""
    if notice.episode_id:
        return notice.episode is not None and notice.episode.ended_on is None
    rows = list(with_patients(Appointment.objects.filter(notices=notice)))
    found = {key_of(row, one): one for row in rows for one in wanted_of([row])[row.pk]}
    one = found.get(notice.key)
    return one is not None and bool(one.channel == notice.channel or notice.batch_id or gave_up(notice, one))


def due_ids(limit: int, now: datetime) -> list[int]:
    """E-mails that are due, within the hours of their site, and that nobody has claimed, oldest first."""
    zones = Site.objects.order_by().values_list("zone", flat=True).distinct()
    awake = [zone for zone in zones if in_hours(now, zone) == now]
    due = _due(now).filter(appointment__site__zone__in=awake)
    return list(due.order_by("due_at", "pk").values_list("pk", flat=True)[:limit])


def claim(notice_id: int, now: datetime) -> Notice | None:
    """Take a due e-mail for two minutes by one conditional update; None if somebody else has it, if it is over, or
    outside the hours of its site: a message may have lain with the broker overnight."""
    zone = Notice.objects.filter(pk=notice_id).values_list("appointment__site__zone", flat=True).first()
    if zone is None or in_hours(now, zone) != now:
        return None
    with in_turn():
        claimed = _due(now).filter(pk=notice_id).update(claimed_until=now + CLAIM, tries=F("tries") + 1)
    if not claimed:
        return None
    return Notice.objects.select_related("patient", "appointment__site", "appointment__patient").get(pk=notice_id)


def withdraw_expired(now: datetime) -> None:
    """What waited until it was pointless is withdrawn; what no process lived to record is given up."""
    waiting = Notice.objects.filter(state=NoticeState.WAITING)
    _free(waiting.filter(until_at__lte=now)).update(
        state=NoticeState.WITHDRAWN, withdrawn_at=now, withdrawn_why=TOO_LATE, claimed_until=None
    )
    tried = waiting.filter(channel=Channel.EMAIL, tries__gte=MOST_TRIES, claimed_until__lt=now)
    _give_up(_free(tried), "interrupted")


@act(Act.NOTICE_SEND)
def record_sent(notice: Notice, *, by: By, to: str, text: str) -> Notice:
    """It went out: recorded once, however often it was sent, even if it was withdrawn meanwhile."""
    return _record_sent(notice, by, Act.NOTICE_SEND, sent_to=to, sent_text=text)


@act(Act.NOTICE_SEND)
def record_failure(notice: Notice, *, by: By, error: str, lasting: bool) -> Notice:
    """It did not go out. Tried again later; where that is `lasting`, or after the last try, a reminder goes to the call
    list and news, whose patient is untold and on that list already, counts as failed."""
    row = Notice.objects.select_for_update().get(pk=notice.pk)
    if row.state != NoticeState.WAITING or row.channel != Channel.EMAIL:
        return row
    waiting, again_at = Notice.objects.filter(pk=row.pk), _again_at(row, by.at)
    if lasting or again_at is None:
        _give_up(waiting, error[:40])
    else:
        waiting.update(claimed_until=again_at, error=error[:40])
    row.refresh_from_db()
    trail(Act.NOTICE_SEND, row, by=by, patient_id=row.patient_id, changed={"error": ("", row.error)})
    return row


@act(Act.NOTICE_CALL)
def log_call(notice: Notice, *, by: By, reached: str, text: str = "") -> Notice:
    """A reminder by telephone: reached or a message left ends it, anything else leaves it on the list.

    Raises Refusal `notice-over` where it is done or withdrawn already, and `not-a-reminder`: news is rung, too, but
    from the list of those to be told, which records that they know.
    """
    row = _lock_waiting(notice)
    if row.kind not in REMINDERS:
        raise Refusal(
            "not-a-reminder", "Only a reminder is rung here. Who is to be told stands on the list To be told."
        )
    patient = row.patient
    contacts.log(patient, by=replace(by, key=None), how=How.PHONE, reached=reached, text=text)
    if reached in (Reached.SPOKE, Reached.MESSAGE):
        row.channel = Channel.CALL
        return _record_sent(row, by, Act.NOTICE_CALL, sent_to=patient.phone, sent_text="")
    row.tries += 1
    row.save(update_fields=["tries"])
    trail(Act.NOTICE_CALL, row, by=by, patient_id=row.patient_id, changed={"reached": ("", reached)})
    return row


@act(Act.NOTICE_WITHDRAW)
def withdraw(notice: Notice, *, by: By, why: str) -> Notice:
    """Somebody decides that it is not to go out; it is not made again. What the planner itself withdraws is made again
    in the form that is wanted now, if any is.

    Raises Refusal `why-missing`, and `notice-over` where it went out or was withdrawn already.
    """
    if not why.strip():
        raise Refusal("why-missing", "Say why it is not to go out.", field="why")
    if by.staff is None and notice.appointment_id:
        bring_in_step([notice.appointment_id], by.at)
        now = Notice.objects.get(pk=notice.pk)
        if (now.state, now.channel) != (NoticeState.WAITING, notice.channel):
            return now
    row = _lock_waiting(notice)
    row.state, row.withdrawn_at = NoticeState.WITHDRAWN, by.at
    row.withdrawn_by, row.withdrawn_why = by.staff, why.strip()
    row.save(update_fields=["state", "withdrawn_at", "withdrawn_by", "withdrawn_why"])
    changed = {"state": (NoticeState.WAITING, NoticeState.WITHDRAWN), "withdrawn_why": ("", why)}
    trail(Act.NOTICE_WITHDRAW, row, by=by, patient_id=row.patient_id, changed=changed)
    return row


def _due(now: datetime) -> QuerySet[Notice]:
    """E-mails that may be claimed; conditions on the row itself, so that one update decides between two."""
    free = Q(claimed_until__isnull=True) | Q(claimed_until__lte=now)
    in_time = Q(until_at__isnull=True) | Q(until_at__gt=now)
    return Notice.objects.filter(
        free, in_time, state=NoticeState.WAITING, channel=Channel.EMAIL, due_at__lte=now, tries__lt=MOST_TRIES
    )


def _free(found: QuerySet[Notice]) -> QuerySet[Notice]:
    """Those that nobody writes just now: whatever an act is doing with the others comes first. Locked by key."""
    unlocked = found.select_for_update(skip_locked=True).order_by("pk").values_list("pk", flat=True)
    return Notice.objects.filter(pk__in=list(unlocked))


def _again_at(notice: Notice, now: datetime) -> datetime | None:
    """When a failed e-mail is tried again; None after the last try, or where it would be too late."""
    if notice.tries >= MOST_TRIES or notice.appointment is None:
        return None
    again_at = in_hours(now + AGAIN[max(notice.tries, 1) - 1], notice.appointment.site.zone)
    return again_at if notice.until_at is None or again_at < notice.until_at else None


def _give_up(waiting: QuerySet[Notice], error: str) -> None:
    waiting.filter(kind__in=REMINDERS).update(channel=Channel.CALL, tries=0, claimed_until=None, error=error)
    waiting.filter(channel=Channel.EMAIL).exclude(kind__in=REMINDERS).update(
        state=NoticeState.FAILED, claimed_until=None, error=error
    )


def _lock_waiting(notice: Notice) -> Notice:
    row = Notice.objects.select_for_update(of=("self",)).select_related("patient").get(pk=notice.pk)
    if row.state != NoticeState.WAITING:
        raise Refusal("notice-over", "This went out or was withdrawn meanwhile. Open the page again.")
    return row


def _record_sent(notice: Notice, by: By, name: Act, **said: str) -> Notice:
    changed = Notice.objects.filter(pk=notice.pk, sent_at__isnull=True).update(
        state=NoticeState.SENT, sent_at=by.at, channel=notice.channel, claimed_until=None, error="",
        withdrawn_at=None, withdrawn_by=None, withdrawn_why="", **said,
    )  # fmt: skip
    was = notice.state
    notice.refresh_from_db()
    if changed:
        trail(name, notice, by=by, patient_id=notice.patient_id, changed={"state": (was, NoticeState.SENT)})
    return notice
