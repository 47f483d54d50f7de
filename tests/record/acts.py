"""One ordinary call of every act, for the tests that must hold for all of them."""

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

from caseload.actions import (
    absences,
    appointments,
    contacts,
    dating,
    episodes,
    feeds,
    filing,
    filling,
    findings,
    holds,
    instructions,
    jobs,
    letters,
    list_files,
    looks,
    measurements,
    notices,
    patient_files,
    patients,
    people,
    reach,
    referrals,
    rehousing,
    rehousing_together,
    retention,
    reviews,
    rule_changes,
    service,
    sessions,
    sheets,
    trail_files,
    undoing,
    visits,
    walk_ins,
    weeks,
)
from caseload.actions.act import By
from caseload.measures.bodies import Pain
from caseload.measures.terms import MeasureKind
from caseload.models import (
    Episode,
    FillLine,
    FillPlan,
    Finding,
    LetterBatch,
    Measurement,
    Notice,
    Patient,
    RuleChange,
    RuleSet,
    WeeklySession,
)
from caseload.timetable.effect import Effect
from caseload.timetable.terms import AfterVisit, Ending, Outcome, Owner
from tests.scenario import TODAY, Fernhollow, by, rules

REPORT = {
    "kind": "stitches", "on": date(2026, 4, 1), "source": "reported", "reported_by": "Practice nurse",
    "stitches_out": 4, "stitches_left": 0,
}  # fmt: skip
CLOSED = {"kind": "wound", "on": date(2026, 4, 1), "source": "seen", "wound": "closed"}
FLAG = {"kind": "red-flag", "on": date(2026, 4, 1), "source": "seen", "note": "spreading redness"}


def recorded(clinic: Fernhollow, said: dict[str, Any], **facts: Any) -> Finding:
    return findings.record(clinic.episode(**facts), by=by(clinic.therapist), **said)


def visited(clinic: Fernhollow, by_: By | None = None):
    """A visit that found the wound not closed, measured pain and set a review."""
    episode = clinic.episode()
    look = visits.Look(
        episode, AfterVisit.REVIEW, findings=[{"kind": "wound", "wound": "not-closed"}],
        measured={MeasureKind.PAIN: Pain(3)}, in_days=14,
    )  # fmt: skip
    return visits.record(episode.patient, by=by_ or by(clinic.therapist), on=TODAY, looks=[look], taught="bending")


def measured(clinic: Fernhollow) -> Measurement:
    return visited(clinic).measurements.get()


def booked(clinic: Fernhollow):
    row = clinic.episode().follow_ups.get(key="stitches-out")
    return clinic.book([row], date(2026, 4, 2))


def instructed(clinic: Fernhollow):
    return instructions.give(
        clinic.episode(), by=by(clinic.therapist), item="driving", by_whom="Surgeon", why="swelling", from_day=9
    )


def slots_of(clinic: Fernhollow):
    return list(clinic.session(date(2026, 4, 7)).slots.all()[:2])


def kept_back(clinic: Fernhollow):
    holds.hold(slots := slots_of(clinic), by=by(clinic.admin), why="kept for urgent")
    return slots


def called_off(clinic: Fernhollow):
    session = booked(clinic).session
    rehousing.call_off([session], by=by(clinic.lead), why="illness")
    return session


def making_room(clinic: Fernhollow):
    """Somebody else moves on a day, and who was called off gets that place."""
    lost = called_off(clinic).appointments.get()
    kept = clinic.book(
        [clinic.episode(surgery_on=date(2026, 3, 24)).follow_ups.get(key="stitches-out")], date(2026, 4, 7)
    )
    left, later = (kept.session_id, kept.start_minute), clinic.session(date(2026, 4, 8))
    return [
        rehousing_together.Place(lost, kept.session, kept.start_minute),
        rehousing_together.Place(kept, later, 540, left),
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


def saved(clinic: Fernhollow, b: By):
    held = {"therapist": clinic.therapist, "site": clinic.site, "weekday": 1, "start": 540, "end": 740}
    return weeks.save_week(by=b, from_on=TODAY, **held)


def weekly(clinic: Fernhollow):
    return WeeklySession.objects.first() or saved(clinic, by(clinic.lead))


def away(clinic: Fernhollow, b: By):
    days = {"starts_on": date(2026, 4, 7), "ends_on": date(2026, 4, 14)}
    return absences.add_absence(by=b, therapist=clinic.therapist, reason="leave", **days)


def shut(clinic: Fernhollow, b: By):
    days = {"starts_on": date(2026, 4, 7), "ends_on": date(2026, 4, 8)}
    return service.add_closure(by=b, site=clinic.site, reason="flood", **days)


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


Call = Callable[[Fernhollow, By], Any]


def copied(clinic: Fernhollow, b: By, effect: bool = False) -> RuleChange:
    """A copy of the rules with another number; what it would do is counted if asked for."""
    base = RuleSet.objects.get(name="two-week", retired_at=None)
    change = rule_changes.propose(base, by=b, why="agreed with the surgeons")
    rule_changes.change_counts(change, by=b, version=1, numbers={"follow_ups.0.latest": 17})
    if effect:
        RuleChange.objects.update(effect=Effect().to_json(), effect_at=b.at)
    return change


CALLS: dict[Callable[..., Any], Call] = {
    patients.add: lambda c, b: patients.add(given="Ivo", family="Harrow", by=b),
    patients.correct: lambda c, b: patients.correct(
        c.episode().patient, by=b, version=1, born_on=date(2015, 5, 5), phone="07700 900123"
    ),
    referrals.add: lambda c, b: referrals.add(c.patient(), by=b, received_on=TODAY, source="hand surgery"),
    referrals.correct: lambda c, b: referrals.correct(
        referrals.add(c.patient(), by=by(), received_on=TODAY, source="hand surgery"),
        by=b, version=1, priority="urgent",
    ),
    episodes.open_episode: lambda c, b: c.episode(by=b),
    episodes.correct: lambda c, b: episodes.correct(c.episode(), by=b, version=1, surgery_on=date(2026, 3, 23)),
    rule_changes.propose: lambda c, b: rule_changes.propose(c.rules, by=b, why="agreed with the surgeons"),
    rule_changes.change_counts: lambda c, b: copied(c, b),
    rule_changes.withdraw: lambda c, b: rule_changes.withdraw(copied(c, b), by=b),
    rule_changes.ask_effect: lambda c, b: rule_changes.ask_effect(copied(c, b), by=b),
    rule_changes.sign: lambda c, b: rule_changes.sign(
        copied(c, b, effect=True), by=b, version=None, surgeon=rule_changes.Surgeon("Miss R. Lanyon", "letter", TODAY)
    ),
    rule_changes.ask_move: lambda c, b: rule_changes.ask_move(c.rules, by=b),
    episodes.move_rules: lambda c, b: episodes.move_rules(c.episode(), rules("ten-to-fourteen"), by=b),
    episodes.close: lambda c, b: episodes.close(
        c.episode(), by=b, version=1, how=Ending.TRANSFERRED, on=TODAY, received_by="Another hand clinic"
    ),
    episodes.reoperate: lambda c, b: episodes.reoperate(
        old := c.episode(), by=b, version=1, on=TODAY, site=c.site, side=old.side, digit=old.digit, surgery_on=TODAY
    ),
    findings.record: lambda c, b: findings.record(c.episode(), by=b, **CLOSED),
    visits.record: lambda c, b: visited(c, b),
    visits.withdraw: lambda c, b: visits.withdraw(visited(c), by=b, why="other hand"),
    measurements.correct: lambda c, b: measurements.correct(measured(c), by=b, body=Pain(2), why="mistyped"),
    measurements.withdraw: lambda c, b: measurements.withdraw(measured(c), by=b, why="other hand"),
    reviews.withdraw: lambda c, b: reviews.withdraw(visited(c).examined.get().review, by=b),
    findings.record_visit: lambda c, b: findings.record_visit(c.episode(), by=b, sayings=[CLOSED, FLAG]),
    findings.correct: lambda c, b: findings.correct(recorded(c, CLOSED), by=b, wound="not-closed"),
    findings.withdraw: lambda c, b: findings.withdraw(recorded(c, CLOSED), by=b, why="wrong hand"),
    findings.countersign: lambda c, b: findings.countersign(recorded(c, REPORT, therapist=None), by=b),
    findings.escalate: lambda c, b: findings.escalate(recorded(c, FLAG), by=b, to="on-call surgeon"),
    findings.close_red_flag: lambda c, b: findings.close_red_flag(
        recorded(c, FLAG), by=b, escalated_to="on-call surgeon", outcome="antibiotics, seen next day"
    ),
    instructions.give: lambda c, b: instructions.give(
        c.episode(), by=b, item="stitches-out", by_whom="Surgeon", why="thin skin", earliest=16, target=18, latest=21
    ),
    instructions.confirm: lambda c, b: instructions.confirm(instructed(c), by=b),
    instructions.withdraw: lambda c, b: instructions.withdraw(instructed(c), by=b, why="entered for the other hand"),
    reviews.set_review: lambda c, b: reviews.set_review(c.episode(), by=b, on=TODAY, in_days=14),
    reviews.complete: lambda c, b: reviews.complete(
        c.episode(suture="none", technique="percutaneous").follow_ups.get(key="wound-check"), by=b, on=TODAY
    ),
    appointments.book: lambda c, b: c.book([c.episode().follow_ups.get(key="stitches-out")], date(2026, 4, 2), by=b),
    filling.ask: lambda c, b: filling.ask(by=b, first=TODAY, last=TODAY + timedelta(days=28)),
    filling.book_line: lambda c, b: filling.book_line(line(c), by=b),
    filling.decline: lambda c, b: filling.decline(line(c), by=b),
    appointments.move: lambda c, b: appointments.move(booked(c), by=b, session=c.session(date(2026, 4, 7)), start=540),
    appointments.arrive: lambda c, b: appointments.arrive(
        c.book([c.episode().follow_ups.get(key="stitches-out")], TODAY), by=b
    ),
    appointments.end: lambda c, b: appointments.end(booked(c), by=b, outcome=Outcome.CANCELLED_BY_PATIENT),
    appointments.tell: lambda c, b: appointments.tell(booked(c), by=b, told="message-left"),
    rehousing.call_off: lambda c, b: rehousing.call_off([booked(c).session], by=b, why="illness"),
    rehousing.rehouse: lambda c, b: rehousing.rehouse(
        called_off(c).appointments.get(), by=b, session=c.session(date(2026, 4, 7)), start=540
    ),
    rehousing_together.rehouse_together: lambda c, b: rehousing_together.rehouse_together(making_room(c), by=b),
    undoing.undo: lambda c, b: undoing.undo(
        c.book([c.episode().follow_ups.get(key="stitches-out")], date(2026, 4, 2), by=b), by=b
    ),
    walk_ins.see: lambda c, b: walk_ins.see([c.episode().follow_ups.get(key="stitches-out")], by=b),
    holds.hold: lambda c, b: holds.hold(slots_of(c), by=b, why="kept for urgent"),
    holds.release: lambda c, b: holds.release(kept_back(c), by=b),
    feeds.make: lambda c, b: feeds.make(by=b),
    feeds.set_initials: lambda c, b: (feeds.make(by=b), feeds.set_initials(by=b, shown=True)),
    feeds.revoke: lambda c, b: (feeds.make(by=b), feeds.revoke(by=b)),
    contacts.log: lambda c, b: contacts.log(c.patient(), by=b, how="phone", reached="no-answer"),
    notices.record_sent: lambda c, b: notices.record_sent(noticed(c, "email"), by=b, to="rosa@example.org", text=""),
    notices.record_failure: lambda c, b: notices.record_failure(
        noticed(c, "email"), by=b, error="refused", lasting=True
    ),
    notices.log_call: lambda c, b: notices.log_call(noticed(c), by=b, reached="no-answer"),
    notices.withdraw: lambda c, b: notices.withdraw(noticed(c), by=b, why="asked not to be reminded"),
    letters.write_to_referrer: referrer_written_to,
    letters.print_batch: printed,
    letters.mark_posted: lambda c, b: letters.mark_posted(printed(c), by=b),
    letters.put_back: lambda c, b: letters.put_back(printed(c), by=b),
    sessions.add_session: lambda c, b: sessions.add_session(
        by=b, therapist=c.therapist, site=c.site, on=date(2026, 4, 7), start=540, end=720
    ),
    sessions.change_session: lambda c, b: sessions.change_session(
        booked(c).session, by=b, version=1, end_minute=720
    ),
    sessions.hold_again: lambda c, b: sessions.hold_again(called_off(c), by=b),
    weeks.save_week: lambda c, b: (booked(c), saved(c, b)),
    weeks.end_week: lambda c, b: weeks.end_week(weekly(c), by=b, version=1, on=date(2026, 4, 20)),
    dating.make_sessions: lambda c, b: dating.make_sessions(by=b, until=weekly(c).starts_on + timedelta(days=200)),
    absences.add_absence: lambda c, b: (weekly(c), booked(c), away(c, b)),
    absences.end_absence: lambda c, b: absences.end_absence(away(c, by()), by=b, on=date(2026, 4, 8)),
    jobs.cancel: lambda c, b: jobs.cancel(jobs.ask("rederive", by=b), by=b),
    sheets.ask: lambda c, b: sheets.ask(c.episode(), language="en-gb", by=b),
    list_files.ask: lambda c, b: list_files.ask("caseload", by=b, rows=2, query={}, patient="", kind="csv"),
    patient_files.ask: lambda c, b: patient_files.ask(c.episode().patient, by=b, why="asked for by the patient"),
    people.invite: lambda c, b: people.invite(by=b, username="noor", name="Noor Vale", roles={Owner.THERAPIST}),
    people.change: lambda c, b: people.change(c.lead, by=b, version=1, roles={Owner.ADMIN}),
    people.reset: lambda c, b: people.reset(c.therapist, by=b, factors=True),
    people.end_sessions: lambda c, b: people.end_sessions(c.therapist, by=b),
    retention.keep: lambda c, b: retention.keep(
        c.patient(), by=b, version=1, keep_why="legal claim", keep_until_on=date(2040, 1, 1)
    ),
    retention.ask: lambda c, b: retention.ask([long_gone(c).code], by=b),
    retention.remove: lambda c, b: retention.remove(long_gone(c), by=b),
    patient_files.take: lambda c, b: patient_files.take(c.patient(), by=b, why="asked for by the patient"),
    filing.file_month: lambda c, b: (c.episode(), filing.file_month(date(2026, 3, 1), by=b)),
    trail_files.ask: lambda c, b: trail_files.ask(by=b, rows=2, kind="csv", query={}),
    trail_files.check: lambda c, b: trail_files.check(by=b),
    reach.open_with_reason: lambda c, b: reach.open_with_reason(c.episode().patient, why="on call tonight", by=b),
    looks.exported: lambda c, b: looks.exported(by=b, route="caseload", rows=3),
    service.add_closure: lambda c, b: (booked(c), shut(c, b)),
    service.remove_closure: lambda c, b: service.remove_closure(shut(c, by()), by=b),
}  # fmt: skip
