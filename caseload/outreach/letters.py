"""What a notice says, as an e-mail or a letter. The sentences are in `templates/letters`.

Decided here:
- Every message to a patient has one subject, which tells nobody what it is about. An e-mail names no person, no hand
  and no treatment, and leads to no page; it says when, where and whom to ring.
- Under 16 on the day it is due, it speaks to the adult who is responsible. Where the birth date is not known, it speaks
  to the patient.
- The letter to a referrer is from one clinic to another: it names the patient and what is still open.
"""

import re
from collections.abc import Iterator
from datetime import date
from typing import Final, NamedTuple

from django.template.loader import render_to_string
from django.utils.translation import gettext as _

from caseload.booking.clock import local_of
from caseload.booking.notices import Channel, NoticeKind
from caseload.models import Appointment, Episode, Notice, Patient
from caseload.reads.earlier_times import earlier_times
from caseload.reads.facts import facts_of
from caseload.reads.missed import missed_visits
from caseload.reads.needless import is_needless
from caseload.timetable.activities import is_child
from caseload.timetable.evidence import read_evidence
from caseload.wording import letters as say
from caseload.wording.record import say_hand

TEMPLATES: Final = {
    NoticeKind.BOOKED: "booked",
    NoticeKind.MOVED: "moved",
    NoticeKind.CANCELLED: "cancelled",
    NoticeKind.WEEK_BEFORE: "reminder",
    NoticeKind.DAYS_BEFORE: "reminder",
    NoticeKind.REFERRER: "referrer",
}


class Said(NamedTuple):
    """`body` is plain text, its paragraphs parted by empty lines."""

    subject: str
    body: str


def compose(notice: Notice) -> Said:
    """What a notice says as everything stands now; it need not be saved.

    Raises ValueError where it is about nothing.
    """
    kind, appointment = NoticeKind(notice.kind), notice.appointment
    if kind is NoticeKind.REFERRER and notice.episode:
        return Said(str(say.TO_REFERRER), _text(kind, _to_referrer(notice.episode)))
    if kind is NoticeKind.REFERRER or appointment is None:
        raise ValueError(f"A notice of the kind {kind} is about nothing that is stored.")
    said = _of_visit(appointment) | {"on_paper": notice.channel == Channel.LETTER}
    said |= _to_patient(notice.patient, local_of(notice.due_at, appointment.site.zone)[0])
    if kind is NoticeKind.MOVED:
        said["before"] = say.say_times(earlier_times(appointment))
    if kind is NoticeKind.CANCELLED:
        said["to_book"] = not is_needless(appointment)
    return Said(str(say.SUBJECT), _text(kind, said))


def addressee(patient: Patient, on: date) -> str:
    """Whose name stands on an envelope that is written on a day."""
    return say.say_addressee(patient.full_name, is_child(patient.born_on, on))


def _text(kind: NoticeKind, said: dict[str, object]) -> str:
    """Each paragraph in one line: how the lines of a template are broken says nothing."""
    parts = re.split(r"\n\s*\n", render_to_string(f"letters/{TEMPLATES[kind]}.txt", said))
    return "\n\n".join(filter(None, (" ".join(part.split()) for part in parts)))


def _of_visit(appointment: Appointment) -> dict[str, object]:
    site = appointment.site
    return {
        "when": say.say_at(appointment.on, appointment.start_minute),
        "where": say.say_where(appointment.way, site.name),
        "telephone": site.telephone,
        "clinic": site.name,
    }


def _to_patient(patient: Patient, on: date) -> dict[str, object]:
    child = is_child(patient.born_on, on)
    return {"child": child, "dear": say.say_dear(patient.full_name, child)}


def _to_referrer(episode: Episode) -> dict[str, object]:
    patient = episode.patient
    numbers = [(row.scheme, row.as_typed) for row in patient.identifiers.all()]
    return {
        "who": say.say_who(patient.full_name, patient.born_on, numbers),
        "operation": say.say_operation(say_hand(episode), episode.surgery_on),
        "missed": [say.say_missed(row) for row in missed_visits(episode)],
        "still_open": " ".join(_still_open(episode)),
        "telephone": episode.site.telephone,
        "clinic": episode.site.name,
    }


def _still_open(episode: Episode) -> Iterator[str]:
    """What is recorded of stitches, wound and warning signs that nobody has ended."""
    evidence = read_evidence(facts_of([episode])[episode.pk])
    partial = evidence.partial
    if partial and partial.finding.left:
        yield say.say_stitches_left(partial.finding.on, partial.finding.left)
    elif evidence.to_remove and evidence.removal is None:
        yield say.say_stitches_in(episode.stitches_in)
    if evidence.closed is None:
        yield _("The wound is not recorded as closed.")
    for flag in evidence.red_flags:
        yield say.say_red_flag(flag.on)
