"""What has to be there before an act: somebody booked, called off, visited, missed, written to, long gone."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

from caseload.actions import (
    absences,
    appointments,
    episodes,
    findings,
    holds,
    instructions,
    letters,
    patients,
    rehousing,
    rehousing_together,
    rule_changes,
    service,
    visits,
    weeks,
)
from caseload.actions.act import By
from caseload.measures.bodies import Pain
from caseload.measures.terms import MeasureKind
from caseload.models import (
    Absence,
    Appointment,
    Closure,
    Episode,
    FillLine,
    FillPlan,
    Finding,
    Instruction,
    Job,
    LetterBatch,
    Measurement,
    Notice,
    Patient,
    RuleChange,
    RuleSet,
    Session,
    Slot,
    Visit,
    WeeklySession,
)
from caseload.timetable.effect import Effect
from caseload.timetable.terms import AfterVisit, Ending, Outcome
from tests.scenario import TODAY, Fernhollow, by

REPORT = {
    "kind": "stitches", "on": date(2026, 4, 1), "source": "reported", "reported_by": "Practice nurse",
    "stitches_out": 4, "stitches_left": 0,
}  # fmt: skip
CLOSED = {"kind": "wound", "on": date(2026, 4, 1), "source": "seen", "wound": "closed"}
FLAG = {"kind": "red-flag", "on": date(2026, 4, 1), "source": "seen", "note": "spreading redness"}


def freed() -> None:
    """Jobs as if their claims had run out, or the pause after a failure."""
    Job.objects.filter(ended_at=None).update(claimed_until=datetime.now(UTC) - timedelta(seconds=1))


def recorded(clinic: Fernhollow, said: dict[str, Any], **facts: Any) -> Finding:
    return findings.record(clinic.episode(**facts), by=by(clinic.therapist), **said)


def visited(clinic: Fernhollow, by_: By | None = None) -> Visit:
    """A visit that found the wound not closed, measured pain and set a review."""
    episode = clinic.episode()
    look = visits.Look(
        episode, AfterVisit.REVIEW, findings=[{"kind": "wound", "wound": "not-closed"}],
        measured={MeasureKind.PAIN: Pain(3)}, in_days=14,
    )  # fmt: skip
    return visits.record(episode.patient, by=by_ or by(clinic.therapist), on=TODAY, looks=[look], taught="bending")


def measured(clinic: Fernhollow) -> Measurement:
    return Measurement.objects.get(visit=visited(clinic))


def booked(clinic: Fernhollow) -> Appointment:
    row = clinic.episode().follow_ups.get(key="stitches-out")
    return clinic.book([row], date(2026, 4, 2))


def instructed(clinic: Fernhollow) -> Instruction:
    return instructions.give(
        clinic.episode(), by=by(clinic.therapist), item="driving", by_whom="Surgeon", why="swelling", from_day=9
    )


def slots_of(clinic: Fernhollow) -> list[Slot]:
    return list(clinic.session(date(2026, 4, 7)).slots.all()[:2])


def kept_back(clinic: Fernhollow) -> list[Slot]:
    holds.hold(slots := slots_of(clinic), by=by(clinic.admin), why="kept for urgent")
    return slots


def taken_session(clinic: Fernhollow) -> Session:
    """One in which somebody is booked."""
    session = booked(clinic).session
    assert session
    return session


def called_off(clinic: Fernhollow) -> Session:
    session = taken_session(clinic)
    rehousing.call_off([session], by=by(clinic.lead), why="illness")
    return session


def making_room(clinic: Fernhollow) -> list[rehousing_together.Place]:
    """Somebody else moves on a day, and who was called off gets that place."""
    lost = called_off(clinic).appointments.get()
    kept = clinic.book(
        [clinic.episode(surgery_on=date(2026, 3, 24)).follow_ups.get(key="stitches-out")], date(2026, 4, 7)
    )
    session, start, later = kept.session, kept.start_minute, clinic.session(date(2026, 4, 8))
    assert session and start
    return [
        rehousing_together.Place(lost, session, start),
        rehousing_together.Place(kept, later, 540, (session.pk, start)),
    ]


def line(clinic: Fernhollow) -> FillLine:
    """A visit that a plan proposes."""
    row, session = clinic.episode().follow_ups.get(key="stitches-out"), clinic.session(date(2026, 4, 2))
    plan = FillPlan.objects.create(
        made_at=by().at, first_on=TODAY, last_on=session.on, cost=16, bound=16, could_place=1
    )
    return plan.lines.create(
        number=1, patient=row.patient, names=[f"{row.episode.code}/{row.key}"], session=session, on=session.on,
        start_minute=540, minutes=20,
    )  # fmt: skip


def saved(clinic: Fernhollow, b: By) -> WeeklySession:
    return weeks.save_week(
        by=b, therapist=clinic.therapist, site=clinic.site, weekday=1, start=540, end=740, from_on=TODAY
    )


def weekly(clinic: Fernhollow) -> WeeklySession:
    return WeeklySession.objects.first() or saved(clinic, by(clinic.lead))


def away(clinic: Fernhollow, b: By) -> Absence:
    return absences.add_absence(
        by=b, therapist=clinic.therapist, starts_on=date(2026, 4, 7), ends_on=date(2026, 4, 14), reason="leave"
    )


def shut(clinic: Fernhollow, b: By) -> Closure:
    return service.add_closure(
        by=b, site=clinic.site, starts_on=date(2026, 4, 7), ends_on=date(2026, 4, 8), reason="flood"
    )


def noticed(clinic: Fernhollow, channel: str = "call") -> Notice:
    """The first reminder of an appointment twelve days ahead, by e-mail where it is set up."""
    patient = clinic.patient(email="rosa@example.org", email_consent=channel == "email")
    row = clinic.episode(patient).follow_ups.get(key="stitches-out")
    return clinic.book([row], date(2026, 4, 13)).notices.earliest("due_at")


def missed_twice(clinic: Fernhollow) -> Episode:
    """Nobody rebooked it: a letter to the referrer is proposed."""
    episode = clinic.episode()
    row = episode.follow_ups.get(key="stitches-out")
    for _ in range(2):
        appointments.end(clinic.book([row], TODAY), by=by(clinic.admin), outcome=Outcome.DID_NOT_ATTEND)
    return episode


def referrer_written_to(clinic: Fernhollow, by_: By | None = None) -> Notice:
    return letters.write_to_referrer(missed_twice(clinic), by=by_ or by(clinic.lead), to="Hand surgery", text="Missed.")


def printed(clinic: Fernhollow, by_: By | None = None) -> LetterBatch:
    referrer_written_to(clinic)
    return letters.print_batch(by=by_ or by(clinic.lead), write=lambda row: (row.sent_to, row.sent_text))


def long_gone(clinic: Fernhollow, on: date = date(2017, 5, 2), **facts: Any) -> Patient:
    """Somebody whose only contact was so long ago that the record may go."""
    patient = patients.add(by=by(clinic.admin, on), given="Ivo", family="Harrow", born_on=date(1960, 1, 2))
    episodes.close(
        Fernhollow.episode(clinic, patient, today=on, surgery_on=on, **facts), by=by(clinic.lead, on), version=None,
        how=Ending.TRANSFERRED, on=on, received_by="Another hand clinic",
    )  # fmt: skip
    return patient


def said_to_have_died(clinic: Fernhollow) -> Episode:
    return episodes.close(clinic.episode(), by=by(clinic.lead), version=None, how=Ending.DIED, on=TODAY)


def copied(clinic: Fernhollow, b: By, effect: bool = False) -> RuleChange:
    """A copy of the rules with another number; what it would do is counted if asked for."""
    base = RuleSet.objects.get(name="two-week", retired_at=None)
    change = rule_changes.propose(base, by=b, why="agreed with the surgeons")
    rule_changes.change_counts(change, by=b, version=1, numbers={"follow_ups.0.latest": 17})
    if effect:
        RuleChange.objects.update(effect=Effect().to_json(), effect_at=b.at)
    return change
