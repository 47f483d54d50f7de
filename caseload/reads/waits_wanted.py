"""Which waits some patients should have, as what is recorded of them stands now."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from datetime import date
from typing import Any, Final, NamedTuple
from zoneinfo import ZoneInfo

from django.conf import settings
from django.db.models import Exists, FilteredRelation, OuterRef, Q, QuerySet, Value

from caseload.models import Appointment, Episode, Instruction, Referral, Visit, Wait
from caseload.parsing.answers import Priority
from caseload.reads.findings import standing_findings
from caseload.reads.prepared import Prepared
from caseload.timetable import facts
from caseload.timetable.evidence import read_evidence
from caseload.timetable.terms import FindingKind, FollowUpKind, Outcome, Source, Suture
from caseload.waits.clocks import Closed, Held, Operation, Request, Targets, Window, of_operation, of_referral
from caseload.waits.clocks import Wait as Derived

DECIDING = (FindingKind.STITCHES, FindingKind.WOUND)
"""Findings that a wait hangs on."""
ORDERED = (facts.Instruction(FollowUpKind.STITCHES_OUT, by="", why=""),)


class Group(NamedTuple):
    """What a wait is grouped by."""

    site_id: int | None = None
    therapist_id: int | None = None
    surgeon: str = ""
    suture: str = ""
    priority: str = ""


class Wanted(NamedTuple):
    """A wait with whose it is and of what: `episode_id` or `referral_id`."""

    patient_id: int
    episode_id: int | None
    referral_id: int | None
    group: Group
    wait: Derived


class Came(NamedTuple):
    """The appointments of a patient, and the days on which they were seen."""

    held: list[Held]
    visited_on: list[date]


def targets() -> Targets:
    """The targets that are set."""
    return Targets(**settings.WAIT_TARGETS)


def keys_that_may_wait() -> list[int]:
    """Every patient who has an episode or a referral, or a wait that may be wrong, by key."""
    of = [model.objects.order_by().values_list("patient_id", flat=True) for model in (Episode, Referral, Wait)]
    return sorted(of[0].union(*of[1:]))


def wanted_of(patients: Collection[int]) -> list[Wanted]:
    """All waits of some patients, in four queries at most."""
    return [*of_referrals(patients), *of_episodes(patients)]


def of_referrals(patients: Collection[int]) -> Iterator[Wanted]:
    """The waits of their referrals, in two queries; one where there is no referral.

    A referral is grouped by the first of its episodes.
    """
    rows = _referrals(patients)
    came = _came({row["patient_id"] for row in rows}) if rows else {}
    by_referral: dict[int, list[dict[str, Any]]] = defaultdict(list)
    for row in rows:
        by_referral[row["pk"]].append(row)
    aims = targets()
    for key, of_one in by_referral.items():
        row = of_one[0]
        group, request, (held, visited_on) = _group(row, "episodes__"), _request(of_one), came[row["patient_id"]]
        for wait in of_referral(request, held, visited_on, aims):
            yield Wanted(row["patient_id"], None, key, group._replace(priority=row["priority"]), wait)


def of_episodes(patients: Collection[int]) -> Iterator[Wanted]:
    """The waits of their episodes, in two queries."""
    rows = _episodes(patients)
    found = standing_findings(row["pk"] for row in rows)
    aims = targets()
    for row in rows:
        group = _group(row)._replace(priority=row["referral__priority"] or "")
        for wait in of_operation(_operation(row, found[row["pk"]]), aims):
            yield Wanted(row["patient_id"], row["pk"], None, group, wait)


def _referrals(patients: Collection[int]) -> list[dict[str, Any]]:
    """One row for each episode of a referral, one for a referral without any."""
    return [dict(zip(_REFERRAL, row, strict=True)) for row in _REFERRALS([*patients])]


_REFERRAL: Final = (
    "pk", "patient_id", "received_on", "arrived_on", "priority", "ended_on", "ended_how", "episodes__pk",
    "episodes__site_id", "episodes__therapist_id", "episodes__surgeon", "episodes__suture", "episodes__ended_on",
    "episodes__ended_how",
)  # fmt: skip
_REFERRALS: Final = Prepared(
    lambda patients: (
        Referral.objects.filter(patient__in=patients).order_by("pk", "episodes__pk").values_list(*_REFERRAL)
    )
)


def _request(rows: list[dict[str, Any]]) -> Request:
    row = rows[0]
    episodes = [_closed(each, "episodes__") for each in rows if each["episodes__pk"]]
    return Request(
        row["received_on"], row["priority"] == Priority.URGENT, row["arrived_on"], _closed(row), tuple(episodes)
    )


def _came(patients: Collection[int]) -> dict[int, Came]:
    """Their appointments and the visits at which they were seen here, in one query."""
    found: dict[int, Came] = defaultdict(lambda: Came([], []))
    for patient, on, outcome, zone, booked_at, ended_on in _CAME([*patients]):
        if zone:
            booked_on = booked_at.astimezone(ZoneInfo(zone)).date()
            found[patient].held.append(Held(on, booked_on, Outcome(outcome) if outcome else None, ended_on))
        else:
            found[patient].visited_on.append(on)
    return found


def _appointments_and_visits(patients: Collection[int]) -> QuerySet[Appointment, Any]:
    seen = Visit.objects.filter(patient__in=patients, source=Source.SEEN, withdrawn_at=None).order_by()
    held = Appointment.objects.filter(patient__in=patients).order_by()
    return held.values_list("patient_id", "on", "outcome", "site__zone", "booked_at", "ended_on").union(
        seen.values_list("patient_id", "on", Value(""), Value(""), "recorded_at", "recorded_on"), all=True
    )


_CAME: Final = Prepared(_appointments_and_visits)


def _episodes(patients: Collection[int]) -> list[dict[str, Any]]:
    """With the window of stitches out as it is stored, and whether the surgeon ordered them to be taken out."""
    return [dict(zip(_EPISODE, row, strict=True)) for row in _EPISODES([*patients])]


_EPISODE: Final = (
    "pk", "patient_id", "surgery_on", "arrived_on", "site_id", "therapist_id", "surgeon", "suture", "stitches_in",
    "ended_on", "ended_how", "referral__priority", "ordered", "out__earliest_on", "out__target_on", "out__latest_on",
)  # fmt: skip


def _operated(patients: Collection[int]) -> QuerySet[Episode, Any]:
    ordered = Instruction.objects.filter(
        episode=OuterRef("pk"), item=FollowUpKind.STITCHES_OUT, withdrawn_at__isnull=True
    )
    out = FilteredRelation("follow_ups", condition=Q(follow_ups__key=FollowUpKind.STITCHES_OUT))
    rows = Episode.objects.filter(patient__in=patients, surgery_on__isnull=False).order_by("pk")
    return rows.annotate(ordered=Exists(ordered), out=out).values_list(*_EPISODE)


_EPISODES: Final = Prepared(_operated)


def _operation(row: dict[str, Any], found: Iterable[facts.Finding]) -> Operation:
    known = facts.EpisodeFacts(
        suture=Suture(row["suture"]),
        stitches_in=row["stitches_in"],
        findings=tuple(each for each in found if each.kind in DECIDING),
        instructions=ORDERED if row["ordered"] else (),
    )
    days = [row[f"out__{name}"] for name in Window._fields]
    window = Window(*days) if days[0] else None
    return Operation(row["surgery_on"], read_evidence(known), row["arrived_on"], window, _closed(row))


def _closed(row: dict[str, Any], of: str = "") -> Closed | None:
    ended_on = row[f"{of}ended_on"]
    return Closed(ended_on, row[f"{of}ended_how"]) if ended_on else None


def _group(row: dict[str, Any], of: str = "") -> Group:
    return Group(row[f"{of}site_id"], row[f"{of}therapist_id"], row[f"{of}surgeon"] or "", row[f"{of}suture"] or "", "")
