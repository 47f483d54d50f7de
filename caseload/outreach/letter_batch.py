"""Letters on paper: what stands on each sheet of a batch, and the letter to a referrer before it is written."""

from datetime import date, datetime
from typing import NamedTuple

from django.utils import timezone

from caseload.actions import letters
from caseload.actions.act import By
from caseload.booking.notices import Channel, NoticeKind
from caseload.models import Episode, LetterBatch, Notice, NoticeState, Site
from caseload.outreach.letters import addressee, compose
from caseload.reads.letters_waiting import address_changed, too_late


class Sheet(NamedTuple):
    """One letter as it is printed: its number in the batch, the lines of its envelope, its text, who writes.

    `take_out` says that it was withdrawn after it was printed, `moved` that the patient's address has changed since,
    `late` that the patient is to be rung as well: posted now, it would not be there in time.
    """

    number: int
    notice: Notice
    lines: list[str]
    paragraphs: list[str]
    site: Site | None
    take_out: bool
    moved: bool
    late: bool


class Draft(NamedTuple):
    """A letter to a referrer as it would go out."""

    to: str
    text: str

    @property
    def paragraphs(self) -> list[str]:
        return paragraphs_of(self.text)


def make(*, by: By) -> LetterBatch:
    """Print what waits. Raises Refusal `no-letters`."""
    return letters.print_batch(by=by, write=written)


def written(notice: Notice) -> tuple[str, str]:
    """To whom and what; a letter that somebody has read before stays as they read it."""
    if notice.sent_text:
        return notice.sent_to, notice.sent_text
    patient, on = notice.patient, timezone.localdate(notice.due_at)
    return f"{addressee(patient, on)}\n{patient.postal_address}".strip(), compose(notice).body


def to_referrer(episode: Episode, at: datetime) -> Draft:
    """The letter that is proposed, as it stands at this instant. Nothing is kept of it."""
    notice = Notice(
        kind=NoticeKind.REFERRER, channel=Channel.LETTER, patient=episode.patient, episode=episode, made_at=at,
        due_at=at,
    )  # fmt: skip
    referrer = episode.referral.source if episode.referral else episode.surgeon
    return Draft(referrer or "The referrer", compose(notice).body)


def sheets(batch: LetterBatch, today: date) -> list[Sheet]:
    """The letters of a batch in their order, in a constant number of queries."""
    rows = batch.notices.select_related("patient", "appointment__site__region", "episode__site")
    found = list(rows.order_by("due_at", "pk"))
    waiting = [row.appointment for row in found if row.appointment and row.state == NoticeState.WAITING]
    late = too_late(waiting, today)
    return [_sheet(number, row, row.appointment_id in late) for number, row in enumerate(found, 1)]


def _sheet(number: int, notice: Notice, late: bool) -> Sheet:
    about = notice.appointment or notice.episode
    return Sheet(
        number, notice, notice.sent_to.splitlines(), paragraphs_of(notice.sent_text), about.site if about else None,
        take_out=notice.state == NoticeState.WITHDRAWN, moved=address_changed(notice), late=late,
    )  # fmt: skip


def paragraphs_of(text: str) -> list[str]:
    return [part.strip() for part in text.split("\n\n") if part.strip()]
