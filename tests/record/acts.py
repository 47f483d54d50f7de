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
from caseload.models import SetReview
from caseload.timetable.terms import Ending, Outcome, Owner
from tests.record.before import (
    CLOSED,
    FLAG,
    REPORT,
    away,
    booked,
    called_off,
    copied,
    instructed,
    kept_back,
    line,
    long_gone,
    making_room,
    measured,
    noticed,
    printed,
    recorded,
    referrer_written_to,
    said_to_have_died,
    saved,
    shut,
    slots_of,
    taken_session,
    visited,
    weekly,
)
from tests.scenario import TODAY, Fernhollow, by, rules

Call = Callable[[Fernhollow, By], Any]
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
    episodes.reopen: lambda c, b: episodes.reopen(said_to_have_died(c), by=b, version=None, why="not so"),
    episodes.reoperate: lambda c, b: episodes.reoperate(
        old := c.episode(), by=b, version=1, on=TODAY, site=c.site, side=old.side, digit=old.digit, surgery_on=TODAY
    ),
    findings.record: lambda c, b: findings.record(c.episode(), by=b, **CLOSED),
    visits.record: lambda c, b: visited(c, b),
    visits.withdraw: lambda c, b: visits.withdraw(visited(c), by=b, why="other hand"),
    measurements.correct: lambda c, b: measurements.correct(measured(c), by=b, body=Pain(2), why="mistyped"),
    measurements.withdraw: lambda c, b: measurements.withdraw(measured(c), by=b, why="other hand"),
    reviews.withdraw: lambda c, b: reviews.withdraw(SetReview.objects.get(examined__visit=visited(c)), by=b),
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
    rehousing.call_off: lambda c, b: rehousing.call_off([taken_session(c)], by=b, why="illness"),
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
        taken_session(c), by=b, version=1, end_minute=720
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
