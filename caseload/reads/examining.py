"""What is known before a visit is recorded: how each digit that is looked at stands, and what the visit may meet."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from typing import NamedTuple

from caseload.errors import Refusal
from caseload.models import Appointment, Episode, Examined, Finding, FollowUp, Patient
from caseload.reads.marks import Seen, seen_of
from caseload.reads.timetables import hand_timetable, with_sources
from caseload.timetable.plan import Activity
from caseload.timetable.terms import FindingKind, Outcome

LAST_SHOWN = (FindingKind.STITCHES, FindingKind.WOUND, FindingKind.TRIM_NEEDED, FindingKind.TRIMMED)


class Subject(NamedTuple):
    """One operated digit as it stands: its mark, the activities that are not over, those begun with the day, and what
    was last found of each kind."""

    episode: Episode
    seen: Seen
    activities: tuple[Activity, ...]
    begun: Mapping[str, date]
    found: Sequence[Finding]


class Occasion(NamedTuple):
    """One visit: the digits looked at, the patient's other open ones, the appointment it keeps or those of today that
    it may keep, and the due follow-ups of these digits that need a visit."""

    patient: Patient
    subjects: Sequence[Subject]
    others: Sequence[Episode]
    appointment: Appointment | None
    of_today: Sequence[Appointment]
    due: Sequence[FollowUp]

    @property
    def episodes(self) -> list[Episode]:
        return [subject.episode for subject in self.subjects]


def occasion_of(
    patient: Patient, codes: Sequence[str], *, appointment: Appointment | None = None, today: date
) -> Occasion:
    """The visit that looks at the episodes of these codes, in their order.

    Raises Refusal `not-to-be-seen` where one of them is no open episode of this patient that has been operated on.
    """
    of_patient = Episode.objects.on_caseload(today).filter(patient=patient)
    known = {row.code: row for row in with_sources(of_patient.select_related("patient")).order_by("pk")}
    if not codes or not known.keys() >= set(codes):
        raise Refusal(
            "not-to-be-seen", "One of these fingers is not under treatment here: it is closed, its surgery is still to "
            "come, or it is another patient's. Open the visit from the page of the patient.",
        )  # fmt: skip
    chosen = [known[code] for code in dict.fromkeys(codes)]
    kept = Appointment.objects.filter(patient=patient, on=today, outcome__in=["", Outcome.ATTENDED], visit=None)
    of_today = [] if appointment else list(kept.prefetch_related("purposes__follow_up__episode"))
    due = FollowUp.objects.due().filter(episode__in=chosen, minutes__gt=0).select_related("episode__site", "patient")
    others = [row for row in known.values() if row not in chosen]
    return Occasion(patient, subjects_of(chosen, today), others, appointment, of_today, list(due))


def subjects_of(episodes: Sequence[Episode], today: date) -> list[Subject]:
    """In a number of queries that grows with the episodes only."""
    begun, found = _begun(episodes), _found(episodes)
    return [
        Subject(
            episode,
            seen_of(episode),
            tuple(
                activity
                for activity in hand_timetable(episode, today=today).activities
                if activity.until_on is None or activity.until_on >= today
            ),
            begun[episode.pk],
            found[episode.pk],
        )
        for episode in episodes
    ]


def _begun(episodes: Iterable[Episode]) -> dict[int, dict[str, date]]:
    """The first day on which each activity was said to begin, by episode; visits that were withdrawn say nothing."""
    found: dict[int, dict[str, date]] = defaultdict(dict)
    said = Examined.objects.filter(episode__in=episodes, visit__withdrawn_at=None).order_by("visit__on", "pk")
    for episode, kinds, on in said.values_list("episode", "started", "visit__on"):
        for kind in kinds:
            found[episode].setdefault(kind, on)
    return found


def _found(episodes: Iterable[Episode]) -> dict[int, list[Finding]]:
    """The last finding of each kind that a therapist asks for before looking, by episode."""
    last: dict[tuple[int, str], Finding] = {}
    rows = Finding.objects.standing().filter(episode__in=episodes, kind__in=LAST_SHOWN)
    for row in rows.in_order():
        last[row.episode_id, row.kind] = row
    found = defaultdict(list)
    for (episode, _), row in last.items():
        found[episode].append(row)
    return found
