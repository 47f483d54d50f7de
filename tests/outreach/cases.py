"""The hands that the tests of the plan sheet look at, each on its own day."""

from collections.abc import Callable
from datetime import date, timedelta

from caseload.actions import findings, instructions
from caseload.models import Episode
from caseload.outreach.plan_sheet import PlanSheet, plan_sheet
from tests.scenario import TODAY, Fernhollow, by

Case = Callable[[Fernhollow], tuple[Episode, date]]


def booked(clinic: Fernhollow, episode: Episode, *keys: tuple[str, date]) -> Episode:
    for key, on in keys:
        clinic.book([episode.follow_ups.get(key=key)], on)
    return episode


def stitched(clinic: Fernhollow) -> tuple[Episode, date]:
    """Non-absorbable, day 12, two visits booked and a third to be booked: the fullest ordinary sheet."""
    visits = ("stitches-out", date(2026, 4, 2)), ("outcome-review", date(2026, 4, 30))
    return booked(clinic, clinic.episode(), *visits), TODAY


def absorbable(clinic: Fernhollow) -> tuple[Episode, date]:
    visits = ("wound-check", date(2026, 4, 2)), ("outcome-review", date(2026, 4, 30))
    return booked(clinic, clinic.episode(suture="absorbable"), *visits), TODAY


def fresh(clinic: Fernhollow) -> tuple[Episode, date]:
    """The day of the operation: almost everything waits."""
    return clinic.episode(today=date(2026, 3, 20)), date(2026, 3, 20)


def percutaneous(clinic: Fernhollow) -> tuple[Episode, date]:
    own = {"suture": "none", "technique": "percutaneous", "stitches_in": None, "digit": "thumb"}
    return clinic.episode(**own), date(2026, 3, 22)


def child(clinic: Fernhollow) -> tuple[Episode, date]:
    patient = clinic.patient(born_on=date(2021, 5, 5))
    return booked(clinic, clinic.episode(patient, digit="thumb"), ("stitches-out", date(2026, 4, 2))), TODAY


def ordered(clinic: Fernhollow) -> tuple[Episode, date]:
    """The surgeon gave driving a day, locked gripping and ordered the days for the stitches."""
    episode = clinic.episode()
    signed = {"by": by(clinic.therapist), "by_whom": "Surgeon", "why": "swelling"}
    instructions.give(episode, item="driving", from_day=20, **signed)
    instructions.give(episode, item="tight-grip", locked=True, **signed)
    instructions.give(episode, item="stitches-out", earliest=16, target=18, latest=20, **signed)
    return episode, TODAY


def closed(clinic: Fernhollow) -> tuple[Episode, date]:
    """Stitches out and the wound closed."""
    episode = clinic.episode()
    signed = {"by": by(clinic.therapist), "source": "seen", "on": TODAY}
    findings.record(episode, kind="stitches", stitches_out=4, stitches_left=0, **signed)
    findings.record(episode, kind="wound", wound="closed", **signed)
    return episode, TODAY + timedelta(days=6)


def two_fingers(clinic: Fernhollow) -> tuple[Episode, date]:
    episode, day = closed(clinic)
    booked(clinic, clinic.episode(episode.patient, digit="index"), ("stitches-out", date(2026, 4, 7)))
    return Episode.objects.get(pk=episode.pk), day


CASES: dict[str, Case] = {
    case.__name__: case
    for case in (stitched, absorbable, fresh, percutaneous, child, ordered, closed, two_fingers)
}  # fmt: skip


def sheet_of(clinic: Fernhollow, case: str) -> PlanSheet:
    episode, today = CASES[case](clinic)
    return plan_sheet(episode, today=today)
