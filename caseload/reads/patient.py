"""The page of a patient, and what names a patient on every page about them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from django.db.models import Prefetch, Q
from django.utils.translation import gettext as _

from caseload.models import (
    Contact,
    Episode,
    Finding,
    FollowUp,
    Patient,
    RedFlagEscalation,
    Referral,
    Standing,
    TrailEntry,
)
from caseload.parsing import Scheme
from caseload.reads.history import Told, tell
from caseload.reads.reach import Reader, unseen_by
from caseload.reads.visit_lines import VisitLine, visits_of
from caseload.reads.waits_of import WaitLine, waits_of
from caseload.timetable.concerns import owner_on
from caseload.timetable.headlines import red_flag_of
from caseload.timetable.terms import FindingKind, FollowUpKind, Headline
from caseload.wording import label
from caseload.wording.record import say_flag_since

NAMESAKES = 5
ENTRIES = 100


@dataclass(frozen=True, slots=True)
class EpisodeLine:
    """An episode in the list of a patient; `standing` is its headline today, None for one off the caseload."""

    episode: Episode
    next_words: str
    planned: bool
    standing: Standing | None


@dataclass(frozen=True, slots=True)
class PatientPage:
    episodes: list[EpisodeLine]
    visits: list[VisitLine]
    referrals: list[Referral]
    waits: list[WaitLine]
    contacts: list[Contact]
    history: list[Told]


def patient_page(patient: Patient, *, today: date) -> PatientPage:
    """Everything about a patient that is not of one episode; a constant number of queries."""
    episodes, referrals = _episodes(patient, today), list(patient.referrals.prefetch_related("episodes"))
    contacts = patient.contacts.select_related("by", "episode")[:ENTRIES]
    trail = TrailEntry.objects.filter(patient=patient).select_related("by")[:ENTRIES]
    waits = waits_of(patient, referrals, (line.episode for line in episodes), today)
    return PatientPage(episodes, visits_of(patient), referrals, waits, list(contacts), tell(trail))


def _episodes(patient: Patient, today: date) -> list[EpisodeLine]:
    now = Prefetch("standings", Standing.objects.on(today), to_attr="standing_now")
    rows = patient.episodes.select_related("site", "therapist").prefetch_related(now)
    return [
        EpisodeLine(
            row,
            next_words=_next_words(row.next_kind),
            planned=row.ended_on is None and row.surgery_on is not None and row.surgery_on > today,
            standing=row.standing_now[0] if row.standing_now else None,
        )
        for row in rows
    ]


def _next_words(kind: str) -> str:
    if not kind:
        return ""
    return label(FollowUpKind(kind) if kind in list(FollowUpKind) else Headline(kind))


def identity(patient: Patient) -> list[tuple[str, str]]:
    """The numbers by which others know a patient: scheme and number as people write it."""
    return [(label(Scheme(row.scheme)), row.as_typed) for row in patient.identifiers.all()]


def namesakes(patient: Patient) -> list[Patient]:
    """Others on the caseload with the same name; before booking or recording, the birth date is then confirmed."""
    others = Patient.objects.filter(search_key=patient.search_key, episodes__ended_on__isnull=True)
    return list(others.exclude(pk=patient.pk).distinct()[:NAMESAKES])


class Namesake(NamedTuple):
    """Another patient of the name; of somebody else's there is no `born_on`, but `apart` says what tells them apart."""

    code: str
    name: str
    born_on: date | None
    apart: str


def namesakes_told(patient: Patient, others: Sequence[Patient], reader: Reader) -> list[Namesake]:
    """Namesakes as a reader may know them.

    That there is one is told to everybody, since taking one for the other is the danger. Of somebody else's patient it
    is told besides whether the birth date, which everybody is asked for, is enough to tell them apart, and not which.
    """
    unseen = unseen_by(reader, (other.pk for other in others))
    return [
        Namesake(other.code, "", None, _apart(patient, other))
        if other.pk in unseen
        else Namesake(other.code, str(other), other.born_on, "")
        for other in others
    ]


def _apart(patient: Patient, other: Patient) -> str:
    if patient.born_on is None or other.born_on is None:
        return _("a birth date is not known: ask for the address or a number too")
    if patient.born_on == other.born_on:
        return _("with the same birth date: ask for the address or a number too")
    return _("with another birth date")


class Flag(NamedTuple):
    """An open red flag: the finding, since when and whose it is in words, and to whom it went last, if to anybody."""

    row: Finding
    since: str
    passed_on: RedFlagEscalation | None


def open_flags(patient: Patient, today: date, own: Episode | None = None) -> list[Flag]:
    """Every open red flag of a patient's open episodes, and of the episode `own` even if it is closed."""
    flags = Finding.objects.standing().filter(kind=FindingKind.RED_FLAG, closure__isnull=True)
    still = Q(episode__ended_on__isnull=True) | Q(episode=own)
    passed_on = Prefetch("escalations", RedFlagEscalation.objects.select_related("by"))
    rows = flags.filter(still, episode__patient=patient).select_related("episode", "by").prefetch_related(passed_on)
    return [_flag(row, today) for row in rows]


def _flag(row: Finding, today: date) -> Flag:
    since = say_flag_since(row.on, today, owner_on(red_flag_of(row.on), today))
    return Flag(row, since, list(row.escalations.all())[-1] if row.escalations.all() else None)


def bookable(patient: Patient, *, first: Episode) -> list[FollowUp]:
    """The patient's follow-ups that need a visit and have no live booking, those of the episode `first` first."""
    rows = FollowUp.objects.due().filter(patient=patient, minutes__gt=0, episode__ended_on__isnull=True)
    free = rows.exclude(purposes__live=True).select_related("episode__site", "patient")
    return sorted(free, key=lambda row: (row.episode_id != first.pk, row.earliest_on, row.pk))
