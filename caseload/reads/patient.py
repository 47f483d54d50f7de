"""The page of a patient, and what names a patient on every page about them."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Final, NamedTuple

from django.db.models import Q, QuerySet
from django.utils.translation import gettext as _

from caseload.models import (
    Contact,
    Episode,
    Finding,
    FollowUp,
    Identifier,
    Patient,
    RedFlagEscalation,
    Referral,
    Standing,
    TrailEntry,
)
from caseload.parsing import Scheme
from caseload.reads.history import Told, tell
from caseload.reads.prepared import Prepared
from caseload.reads.prepared_models import PreparedModels, by_key, put
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
    episodes, referrals = _episodes(patient, today), _REFERRALS(patient.pk)
    put(referrals, "episodes", by_key((line.episode for line in episodes), "referral_id"))
    waits = waits_of(patient, referrals, (line.episode for line in episodes), today)
    contacts, trail = _CONTACTS(patient.pk), _TRAIL(patient.pk)
    return PatientPage(episodes, visits_of(patient), referrals, waits, contacts, tell(trail))


_REFERRALS: Final = PreparedModels(lambda patient: Referral.objects.filter(patient=patient))
_CONTACTS: Final = PreparedModels(
    lambda patient: Contact.objects.filter(patient=patient).select_related("by", "episode")[:ENTRIES]
)
_TRAIL: Final = PreparedModels(
    lambda patient: TrailEntry.objects.filter(patient=patient).select_related("by")[:ENTRIES]
)
_EPISODES: Final = PreparedModels(
    lambda patient: Episode.objects.filter(patient=patient).select_related("site", "therapist")
)
_STANDING: Final = PreparedModels(lambda episodes, today: Standing.objects.on(today).filter(episode__in=episodes))


def _episodes(patient: Patient, today: date) -> list[EpisodeLine]:
    rows = _EPISODES(patient.pk)
    standing = by_key(_STANDING([row.pk for row in rows], today), "episode_id")
    return [
        EpisodeLine(
            row,
            next_words=_next_words(row.next_kind),
            planned=row.ended_on is None and row.surgery_on is not None and row.surgery_on > today,
            standing=next(iter(standing[row.pk]), None),
        )
        for row in rows
    ]


def _next_words(kind: str) -> str:
    if not kind:
        return ""
    return label(FollowUpKind(kind) if kind in list(FollowUpKind) else Headline(kind))


def identity(patient: Patient) -> list[tuple[str, str]]:
    """The numbers by which others know a patient: scheme and number as people write it."""
    return [(label(Scheme(scheme)), as_typed) for scheme, as_typed in _IDENTIFIERS(patient.pk)]


_IDENTIFIERS: Final = Prepared(
    lambda patient: Identifier.objects.filter(patient=patient).values_list("scheme", "as_typed")
)


def namesakes(patient: Patient) -> list[Patient]:
    """Others on the caseload with the same name; before booking or recording, the birth date is then confirmed."""
    return _NAMESAKES(patient.search_key, patient.pk)


def _namesakes(name: str, patient: int) -> QuerySet[Patient]:
    others = Patient.objects.filter(search_key=name, episodes__ended_on__isnull=True)
    return others.exclude(pk=patient).distinct()[:NAMESAKES]


_NAMESAKES: Final = PreparedModels(_namesakes)


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
    rows = _FLAGS(patient.pk, own.pk if own else 0)
    passed_on = escalations_of(rows)
    return [_flag(row, passed_on[row.pk], today) for row in rows]


def _flags(patient: int, own: int) -> QuerySet[Finding]:
    flags = Finding.objects.standing().filter(kind=FindingKind.RED_FLAG, closure__isnull=True)
    still = Q(episode__ended_on__isnull=True) | Q(episode=own)
    return flags.filter(still, episode__patient=patient).select_related("episode", "by")


_FLAGS: Final = PreparedModels(_flags)
_ESCALATIONS: Final = PreparedModels(
    lambda findings: RedFlagEscalation.objects.filter(finding__in=findings).select_related("by")
)


def escalations_of(findings: Sequence[Finding]) -> dict[int, list[RedFlagEscalation]]:
    """To whom red flags were passed on, the first first, by finding."""
    return by_key(_ESCALATIONS([row.pk for row in findings if row.kind == FindingKind.RED_FLAG]), "finding_id")


def _flag(row: Finding, passed_on: Sequence[RedFlagEscalation], today: date) -> Flag:
    since = say_flag_since(row.on, today, owner_on(red_flag_of(row.on), today))
    return Flag(row, since, passed_on[-1] if passed_on else None)


def bookable(patient: Patient, *, first: Episode) -> list[FollowUp]:
    """The patient's follow-ups that need a visit and have no live booking, those of the episode `first` first."""
    rows = FollowUp.objects.due().filter(patient=patient, minutes__gt=0, episode__ended_on__isnull=True)
    free = rows.exclude(purposes__live=True).select_related("episode__site", "patient")
    return sorted(free, key=lambda row: (row.episode_id != first.pk, row.earliest_on, row.pk))
