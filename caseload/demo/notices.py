"""What was written and rung so far in the demo: e-mails go into a folder, and not all of those rung answered."""

from collections.abc import Iterable
from datetime import timedelta
from itertools import cycle
from typing import Any, Final

from caseload.actions import notices, patients
from caseload.actions.act import By
from caseload.booking.notices import REMINDERS, Channel
from caseload.demo.stage import ORIGIN, Stage
from caseload.models import Appointment, Notice, NoticeState, Reached
from caseload.outreach.letters import compose

CAME_OF_IT: Final = (Reached.SPOKE, Reached.SPOKE, Reached.MESSAGE, Reached.SPOKE, Reached.NO_ANSWER)
FAR: Final = timedelta(days=8)
HOME: Final = "{number} Ropewalk\nFernhollow\nFH1 4QZ"
LONG_CALL: Final = timedelta(minutes=4)


def agree(stage: Stage) -> None:
    """Of those to be told of something a good while ahead, every other one is written to by letter or by e-mail."""
    far = Appointment.objects.filter(untold_since_on__isnull=False, on__gte=stage.today + FAR)
    rows = far.filter(patient__interpreter=False).select_related("patient").order_by("on", "pk")
    for row, email in zip(rows, cycle((False, True)), strict=False):
        patient, by = row.patient, By(stage.lead, stage.now, stage.today, origin=ORIGIN)
        address = patient.email or f"{patient.search_key.replace(' ', '.')}@example.org"
        on_paper = {"email_consent": False, "postal_address": HOME.format(number=patient.pk % 90 + 1)}
        reached: dict[str, Any] = {"email": address, "email_consent": True} if email else on_paper
        patients.correct(patient, by=by, version=None, **reached)


def catch_up(stage: Stage) -> None:
    """What was due before today is done: e-mails are sent, all but one, and patients rung in the order of the list."""
    agree(stage)
    waiting = Notice.objects.filter(state=NoticeState.WAITING).select_related("patient", "appointment__site")
    due = waiting.filter(due_at__lte=stage.now).order_by("due_at", "pk")
    reminders = due.filter(kind__in=REMINDERS)
    last = reminders.last()
    if last:
        done = reminders.filter(due_at__date__lt=last.due_at.date())
        send(stage, done.filter(channel=Channel.EMAIL))
        ring(stage, done.filter(channel=Channel.CALL))
    news = due.filter(channel=Channel.EMAIL).exclude(kind__in=REMINDERS).first()
    if news:
        notices.record_failure(news, by=By(None, stage.now, stage.today, origin=ORIGIN), error="refused", lasting=True)


def send(stage: Stage, due: Iterable[Notice]) -> None:
    for notice in due:
        by = By(None, notice.due_at + timedelta(seconds=2), stage.today, origin=ORIGIN)
        notices.record_sent(notice, by=by, to=notice.patient.email, text=compose(notice).body)


def ring(stage: Stage, due: Iterable[Notice]) -> None:
    for notice, reached in zip(due, cycle(CAME_OF_IT), strict=False):
        assert notice.appointment is not None
        admin = stage.admin(notice.appointment.site.name)
        notices.log_call(notice, by=By(admin, notice.due_at + LONG_CALL, stage.today, origin=ORIGIN), reached=reached)
