"""The page of one episode: everything recorded and derived of it, in words where it needs them, in few queries."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final, cast

from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _

from caseload.models import (
    Appointment,
    Completion,
    Contact,
    Episode,
    Finding,
    Instruction,
    Measurement,
    Purpose,
    SetReview,
    TrailEntry,
    Visit,
)
from caseload.reads import overdue
from caseload.reads.awaiting import REPORTS
from caseload.reads.episode_lines import ActivityLine, FindingLine, FollowUpLine, HeadlineLine, InstructionLine
from caseload.reads.history import Told, tell
from caseload.reads.lines import Line, Stored, line_of
from caseload.reads.patient import escalations_of
from caseload.reads.prepared_models import PreparedModels, by_key, put
from caseload.reads.timetables import Hand, hand_of
from caseload.reads.visit_lines import VisitLine, visits_of
from caseload.timetable.concerns import owner_on, pressing
from caseload.timetable.evidence import read_evidence
from caseload.timetable.plan import Activity, Concern, NextStep, Reason, Timetable
from caseload.timetable.standing import booking, days_late, is_planned, status
from caseload.timetable.terms import (
    FindingKind,
    FollowUpKind,
    Headline,
    Lock,
    Owner,
    Source,
    Status,
)
from caseload.wording import label, say_date, sentence
from caseload.wording.advice import Matter, advise
from caseload.wording.record import say_found, say_instruction
from caseload.wording.speech import speech

ENTRIES = 100
"""Contacts and entries of the history that the page shows at most, the latest ones."""
GATE_OF = {
    "wound-not-recorded": Lock.WOUND_CLOSED, "wound-not-closed": Lock.WOUND_CLOSED,
    "wound-held-by-stitches": Lock.WOUND_CLOSED, "removal-not-recorded": Lock.STITCHES_OUT,
    "removal-not-vouched-for": Lock.STITCHES_OUT, "stitches-still-in": Lock.STITCHES_OUT,
    "counts-disagree": Lock.STITCHES_OUT, "trim-pending": Lock.TRIMMED,
}  # fmt: skip
"""The gate that a reason speaks of."""


@dataclass(frozen=True, slots=True)
class EpisodePage:
    timetable: Timetable
    line: Line | None
    headline: HeadlineLine | None
    next_step: NextStep | None
    next_words: str
    follow_ups: list[FollowUpLine]
    dropped: list[FollowUpLine]
    activities: list[ActivityLine]
    gates: dict[Lock, list[str]]
    findings: list[FindingLine]
    instructions: list[InstructionLine]
    visits: list[VisitLine]
    appointments: list[Appointment]
    contacts: list[Contact]
    history: list[Told]
    hand: tuple[Episode, ...]
    planned: bool

    @property
    def to_countersign(self) -> list[str]:
        """The reports that wait for a countersignature, in words."""
        return [_("To countersign: %(what)s") % {"what": line.said} for line in self.findings if line.waits]

    def whys(self) -> dict[str, list[str]]:
        """Why each part of the day line is where it is: by the key of a follow-up or the word of a gate."""
        return {line.row.key: line.why for line in self.follow_ups} | {
            str(lock): why for lock, why in self.gates.items()
        }


def episode_page(episode: Episode, *, today: date) -> EpisodePage:
    """Everything that the page shows, in some twenty queries however much is recorded."""
    hand = hand_of(episode, today=today)
    appointments = _appointments(episode)
    follow_ups = _follow_ups(hand, appointments, today)
    return EpisodePage(
        timetable=hand.own,
        line=line_of(hand.own, hand.facts, today),
        headline=_headline(episode, hand, today),
        next_step=(step := _clamped(hand.own.next_step, today)),
        next_words=_next_words(step),
        follow_ups=[line for line in follow_ups if line.status is not Status.NOT_NEEDED],
        dropped=[line for line in follow_ups if line.status is Status.NOT_NEEDED],
        activities=[_activity(row, today) for row in hand.own.activities],
        gates=_gates(hand.own.activities),
        findings=_findings(episode),
        instructions=[_instruction(row, episode) for row in _INSTRUCTIONS(episode.pk)],
        visits=visits_of(episode.patient, episode=episode),
        appointments=appointments,
        contacts=_CONTACTS(episode.pk),
        history=tell(_TRAIL(episode.pk, episode.patient_id)),
        hand=hand.others,
        planned=is_planned(hand.own, today),
    )


_INSTRUCTIONS: Final = PreparedModels(
    lambda episode: Instruction.objects.filter(episode=episode).select_related("recorded_by")
)
_CONTACTS: Final = PreparedModels(
    lambda episode: Contact.objects.filter(episode=episode).select_related("by")[:ENTRIES]
)


def _sentences(reasons: Sequence[Reason]) -> list[str]:
    return [sentence(reason) for reason in reasons]


def _headline(episode: Episode, hand: Hand, today: date) -> HeadlineLine | None:
    standing = sorted((each for each in hand.own.concerns if each.from_on <= today), key=pressing)
    if not standing or is_planned(hand.own, today):
        return None
    first, *rest = standing
    others: dict[Headline, Owner] = {}
    for concern in rest:
        others.setdefault(concern.headline, owner_on(concern, today))
    advice = advise(_matter(episode, hand, first, today), speech())
    return HeadlineLine(first.headline, owner_on(first, today), advice, list(others.items()))


def _matter(episode: Episode, hand: Hand, concern: Concern, today: date) -> Matter:
    """What a concern is about, as the list of those who need somebody says it."""
    window = next((row for row in hand.own.follow_ups if row.key == concern.follow_up), None)
    return overdue.Row(
        headline=concern.headline, owner="", due_on=concern.due_on, follow_up_key=concern.follow_up or "", others=[],
        site_id=0, therapist_id=None, id=0, code="", side=episode.side, digit=episode.digit, suture=episode.suture,
        stitches_in=None, surgery_on=episode.surgery_on, family="", given="", born_on=None, phone="",
        follow_up=cast(Stored, window), evidence=read_evidence(hand.facts),
    ).matter(today)  # fmt: skip


def _clamped(step: NextStep | None, today: date) -> NextStep | None:
    """What should have happened already is to happen today."""
    return step._replace(on=max(step.on, today)) if step else None


def _next_words(step: NextStep | None) -> str:
    if step is None:
        return ""
    return label(FollowUpKind(step.kind) if step.follow_up else Headline(step.kind))


def _instruction(row: Instruction, episode: Episode) -> InstructionLine:
    stands = row.withdrawn_at is None
    return InstructionLine(row, say_instruction(row), stands and row.confirmed_for != episode.surgery_on)


def _follow_ups(hand: Hand, appointments: Sequence[Appointment], today: date) -> list[FollowUpLine]:
    serving = {key: row for row in appointments if row.live and not row.outcome for key in keys_of(row)}
    return [
        FollowUpLine(
            row=row,
            kind=row.kind,
            status=status(row, today),
            days_late=days_late(row, today),
            booking=booking(hand.facts.appointments, row, today),
            appointment=serving.get(row.key),
            why=_sentences(row.reasons),
        )
        for row in sorted(hand.own.follow_ups, key=lambda row: (row.earliest_on, row.latest_on))
    ]


def _activity(row: Activity, today: date) -> ActivityLine:
    over = row.until_on is not None and row.until_on < today
    return ActivityLine(row, row.kind, row.locked_by(today), over, _sentences(row.reasons))


def _gates(activities: Sequence[Activity]) -> dict[Lock, list[str]]:
    """The gates that are shut today, each with the sentences that say why."""
    found: dict[Lock, list[str]] = {}
    for activity in activities:
        for reason in activity.reasons:
            lock = GATE_OF.get(reason.code)
            if lock and lock in activity.locks and (said := sentence(reason)) not in found.setdefault(lock, []):
                found[lock].append(said)
    return found


def _findings(episode: Episode) -> list[FindingLine]:
    """In the order of time; what corrects another stands in its place, under it."""
    found = [row for row in _FINDINGS(episode.pk) if not row.withdraws]
    put(found, "escalations", escalations_of(found))
    return [_finding(row, {each.pk: each for each in found}) for row in found]


_RELATED: Final = ("by", "visit", "countersignature__by", "closure__by", "corrected_by__by")
_FINDINGS: Final = PreparedModels(
    lambda episode: Finding.objects.filter(episode=episode).select_related(*_RELATED).in_order()
)


def _finding(row: Finding, all_rows: Mapping[int, Finding]) -> FindingLine:
    later, earlier = getattr(row, "corrected_by", None), all_rows.get(row.corrects_id or 0)
    report = row.source in REPORTS and row.kind != FindingKind.RED_FLAG
    unsigned = later is None and report and not hasattr(row, "countersignature")
    said = f"{say_found(earlier)}, {say_date(earlier.on)}" if earlier else ""
    return FindingLine(
        row, say_found(row), Source(row.source), later, said, unsigned,
        waits=unsigned and not any(_tells_more(each, row) for each in all_rows.values()),
    )  # fmt: skip


def _tells_more(other: Finding, row: Finding) -> bool:
    """Whether another finding that stands was seen here on or after the day of a report of the same thing."""
    seen = other.kind == row.kind and other.source == Source.SEEN and other.on >= row.on
    return seen and getattr(other, "corrected_by", None) is None


def _appointments(episode: Episode) -> list[Appointment]:
    rows = _APPOINTMENTS(episode.pk)
    put(rows, "purposes", by_key(_PURPOSES([row.pk for row in rows]), "appointment_id"))
    return rows


_APPOINTMENTS: Final = PreparedModels(
    lambda episode: (
        Appointment.objects.filter(purposes__follow_up__episode=episode)
        .distinct()
        .select_related("site", "session__therapist")
        .order_by("-on", "-id")
    )
)
_PURPOSES: Final = PreparedModels(
    lambda appointments: Purpose.objects.filter(appointment__in=appointments).select_related("follow_up").order_by("id")
)


def keys_of(row: Appointment) -> list[str]:
    return [purpose.follow_up.key for purpose in row.purposes.all()]


def _trail(episode: int, patient: int) -> QuerySet[TrailEntry]:
    """The entries about the episode itself and about everything recorded of it, the latest first."""
    own = Q(subject="episode", subject_id=episode)
    for model in (Finding, Measurement, Instruction, SetReview, Contact):
        rows = model.objects.filter(episode=episode).values("pk")
        own |= Q(subject=model._meta.model_name, subject_id__in=rows)
    done = Completion.objects.filter(follow_up__episode=episode).values("pk")
    booked = Appointment.objects.filter(purposes__follow_up__episode=episode).values("pk")
    visits = Visit.objects.filter(examined__episode=episode).values("pk")
    own |= Q(subject="visit", subject_id__in=visits)
    own |= Q(subject="completion", subject_id__in=done) | Q(subject="appointment", subject_id__in=booked)
    return TrailEntry.objects.filter(own, patient=patient).select_related("by")[:ENTRIES]


_TRAIL: Final = PreparedModels(_trail)
