"""Letters: printed in batches, posted by a person, or put back; and the letter to whoever referred a patient."""

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import date
from typing import Final

from django.db.models import QuerySet

from caseload.access import Act
from caseload.actions import appointments
from caseload.actions.act import By, act, entry, trail
from caseload.actions.in_step import bring_in_step
from caseload.actions.seats import lock_episodes
from caseload.actions.settle import together
from caseload.booking.notices import Channel, NoticeKind
from caseload.errors import Refusal
from caseload.models import Appointment, Episode, LetterBatch, Notice, NoticeState, Told, TrailEntry
from caseload.reads.letters_waiting import address_changed, is_proposed, letters_due, too_late

MOST: Final = 200
"""So many letters are printed together at most; the rest waits for the next batch."""
Write = Callable[[Notice], tuple[str, str]]
"""To whom a letter goes, as the lines of an envelope, and its text."""


@act(Act.LETTERS_PRINT)
def print_batch(*, by: By, write: Write) -> LetterBatch:
    """Put the letters that wait together, the oldest first, each with its text as it is printed.

    Raises Refusal `no-letters` where none waits.
    """
    due = letters_due(by.at)
    oldest = list(due.order_by("due_at", "pk").values_list("pk", "appointment")[:MOST])
    bring_in_step([appointment for _, appointment in oldest if appointment], by.at)
    found = due.filter(pk__in=[key for key, _ in oldest]).select_for_update(of=("self",)).order_by("pk")
    rows = list(found.select_related("patient", "appointment__site", "episode__site"))
    if not rows:
        raise Refusal("no-letters", "No letter waits to be printed.")
    batch = LetterBatch.objects.create(by=by.person, made_at=by.at)
    for row in rows:
        row.batch = batch
        row.sent_to, row.sent_text = write(row)
    Notice.objects.bulk_update(rows, ["batch", "sent_to", "sent_text"])
    trail(Act.LETTERS_PRINT, batch, by=by, patient_id=None, changed={"letters": (None, len(rows))})
    _enter(Act.LETTERS_PRINT, rows, by)
    return batch


@act(Act.LETTERS_POST)
def mark_posted(batch: LetterBatch, *, by: By) -> LetterBatch:
    """The letters of a batch are on their way; those withdrawn since it was printed were taken out, and so were those
    whose address has changed: they wait for the next batch. Whoever was still to be told has a message left for them,
    unless the letter comes too late: they stay to be rung.

    Raises Refusal `posted-already`, and `batch-gone` where it was put back.
    """
    _lock_open(batch)
    untold = _in_time(_lock_appointments(batch), by.today)
    waiting = batch.notices.filter(state=NoticeState.WAITING).select_for_update(of=("self",)).order_by("pk")
    printed = list(waiting.select_related("patient"))
    rows = [row for row in printed if not address_changed(row)]
    _print_anew(batch.notices.filter(pk__in={row.pk for row in printed} - {row.pk for row in rows}))
    batch.notices.filter(pk__in=[row.pk for row in rows]).update(state=NoticeState.SENT, sent_at=by.at, error="")
    batch.posted_at, batch.posted_by = by.at, by.person
    batch.save(update_fields=["posted_at", "posted_by"])
    with together():
        for key in sorted({row.appointment_id for row in rows if row.appointment_id in untold}):
            appointments.tell(untold[key], by=replace(by, key=None), told=Told.MESSAGE)
    trail(Act.LETTERS_POST, batch, by=by, patient_id=None, changed={"letters": (None, len(rows))})
    _enter(Act.LETTERS_POST, rows, by)
    return batch


@act(Act.LETTERS_POST)
def put_back(batch: LetterBatch, *, by: By) -> LetterBatch:
    """A batch that was not posted: it is no more, and its letters wait for the next one. What was written to a referrer
    keeps its text. Raises Refusal as above.
    """
    _lock_open(batch)
    key, letters = batch.pk, batch.notices.all()
    count = letters.filter(state=NoticeState.WAITING).count()
    _print_anew(letters.exclude(kind=NoticeKind.REFERRER))
    letters.update(batch=None)
    trail(Act.LETTERS_POST, batch, by=by, patient_id=None, changed={"letters": (count, None)})
    batch.delete()
    batch.pk = key
    return batch


@act(Act.REFERRER_WRITE)
def write_to_referrer(episode: Episode, *, by: By, to: str, text: str) -> Notice:
    """A person has read a letter to the referrer and lets it go with the next batch. It discharges nobody.

    Raises Refusal `not-proposed` where the planner proposes none, or one is on its way already.
    """
    lock_episodes([episode.pk])
    if not is_proposed(episode, by.today):
        raise not_proposed()
    number = Notice.objects.filter(episode=episode).count() + 1
    notice = Notice.objects.create(
        key=f"referrer-{episode.code}-{number}", kind=NoticeKind.REFERRER, channel=Channel.LETTER,
        patient_id=episode.patient_id, episode=episode, made_at=by.at, due_at=by.at, sent_to=to, sent_text=text,
    )  # fmt: skip
    trail(Act.REFERRER_WRITE, notice, by=by, patient_id=episode.patient_id, changed={})
    return notice


def _print_anew(letters: QuerySet[Notice]) -> None:
    letters.update(batch=None, sent_to="", sent_text="")


def not_proposed() -> Refusal:
    return Refusal("not-proposed", "No letter to the referrer is proposed for this episode any more.")


def _lock_open(batch: LetterBatch) -> None:
    found = LetterBatch.objects.select_for_update().filter(pk=batch.pk).first()
    if found is None:
        raise Refusal("batch-gone", "This batch was put back meanwhile: its letters wait for the next one.")
    if found.posted_at:
        raise Refusal("posted-already", "It is recorded already that this batch was posted.")


def _in_time(rows: Iterable[Appointment], today: date) -> dict[int, Appointment]:
    late = too_late(rows, today)
    return {row.pk: row for row in rows if row.pk not in late}


def _lock_appointments(batch: LetterBatch) -> list[Appointment]:
    """Lock what the letters of a batch are about, in the one order; give back those whose patient is to be told."""
    about = Appointment.objects.filter(notices__batch=batch)
    lock_episodes(about.values_list("purposes__follow_up__episode", flat=True))
    keys = list(about.order_by("pk").values_list("pk", flat=True))
    rows = Appointment.objects.select_for_update(of=("self",)).select_related("patient", "site__region")
    return [row for row in rows.filter(pk__in=keys).order_by("pk") if row.told == Told.UNTOLD]


def _enter(name: Act, rows: Iterable[Notice], by: By) -> None:
    TrailEntry.objects.bulk_create(
        TrailEntry(**entry(name, row, by=by, patient_id=row.patient_id, changed={})) for row in rows
    )
