"""The cast that is well looked after: stitches and wounds of all kinds, sources, orders, corrections."""

from datetime import timedelta

from caseload.actions import episodes, instructions
from caseload.demo import looks
from caseload.demo.measuring import infection
from caseload.demo.people import QUAY_STREET, REPORTERS
from caseload.demo.roles import ABSORBABLE, NEEDLE, UNSTITCHED, last_visit_day, next_visit_day, role
from caseload.demo.stage import TEN_TO_FOURTEEN
from caseload.demo.stories import recovery, removed_elsewhere, settle_doubts, therapy, worry
from caseload.demo.telling import Booked, Part, Story, Telling
from caseload.demo.visits import attend
from caseload.measures.terms import MeasureKind
from caseload.models import Reached
from caseload.timetable.terms import Digit, FindingKind, FollowUpKind, Outcome, Side, Source, WoundState

OUT, CHECK = FollowUpKind.STITCHES_OUT, FollowUpKind.WOUND_CHECK


def kept(telling: Telling, kind: FollowUpKind) -> Part[Booked]:
    """Booked for the last open day, and that day come."""
    booked = yield from telling.book(kind, on=last_visit_day(telling))
    telling.go(booked.appointment.on)
    return booked


# Stitches and wounds


@role(14, 13, 15, 12, before_visit=True, digit=Digit.MIDDLE)
def one_stitch_left(telling: Telling) -> Story:
    booked = yield from kept(telling, OUT)
    attend(telling, booked, lambda _, episode: looks.look(
        episode, looks.removal(3, 1, note="one at the crease"), looks.wound()
    ))  # fmt: skip
    yield from telling.book(FollowUpKind.STITCHES_RECHECK)


@role(14, 13, 15, 12, before_visit=True, side=Side.LEFT, risks=["diabetes"])
def wound_watched(telling: Telling) -> Story:
    booked = yield from kept(telling, OUT)
    attend(telling, booked, lambda _, episode: looks.look(
        episode, looks.all_out(episode), looks.wound(WoundState.CONCERN, note="red along the edge"),
        measured={MeasureKind.INFECTION: infection(booked.appointment.on)},
    ))  # fmt: skip
    yield from telling.book(FollowUpKind.WOUND_RECHECK)


@role(13, 14, 12, 15, before_visit=True, site=QUAY_STREET)
def reported_and_to_be_seen(telling: Telling) -> Story:
    booked = yield from telling.book(OUT)
    telling.go(last_visit_day(telling))
    telling.found(looks.all_out(telling.episodes[0]), Source.REPORTED, reported_by=REPORTERS[0])
    telling.ended(booked, Outcome.CANCELLED_BY_PATIENT, "stitches taken out at the practice")
    yield from telling.book(FollowUpKind.WOUND_RECHECK)


@role(24, 25, 26, 27, digit=Digit.INDEX)
def reported_and_countersigned(telling: Telling) -> Story:
    yield from removed_elsewhere(telling)
    telling.later(1)
    telling.vouch(telling.patient.visits.get())
    yield from settle_doubts(telling)
    yield from therapy(telling)


@role(12, 13, 14, before_visit=True, **ABSORBABLE)
def picture_to_be_countersigned(telling: Telling) -> Story:
    yield
    telling.go(last_visit_day(telling))
    telling.found(looks.wound(), Source.PHOTO, note="Picture sent by e-mail.")
    yield from telling.book(CHECK)


@role(20, 21, 22, 19, **NEEDLE)
def picture_countersigned(telling: Telling) -> Story:
    yield
    telling.later(6)
    telling.vouch(telling.see([looks.look(telling.episodes[0], looks.wound())], Source.PHOTO))
    yield from therapy(telling)


@role(9, 10, 8, 11)
def says_they_are_out(telling: Telling) -> Story:
    yield from telling.book(OUT)
    telling.go(last_visit_day(telling))
    telling.found(looks.removal(4, note="says a neighbour took them out"), Source.PATIENT)
    telling.ring(Reached.SPOKE, "Asked to keep the appointment all the same.")


@role(13, 14, 12, before_visit=True, **ABSORBABLE, side=Side.LEFT)
def ends_to_be_trimmed(telling: Telling) -> Story:
    booked = yield from kept(telling, CHECK)
    attend(telling, booked, lambda _, episode: looks.look(
        episode, {"kind": FindingKind.TRIM_NEEDED}, looks.wound()
    ))  # fmt: skip
    yield from telling.book(CHECK)


@role(25, 26, 27, 28, digit=Digit.LITTLE)
def red_flag_seen_to(telling: Telling) -> Story:
    yield
    telling.later(7)
    worry(telling, source=Source.SEEN)
    yield from recovery(telling)


@role(5, 6, 7, 8, **NEEDLE, digit=Digit.THUMB)
def without_a_stitch(telling: Telling) -> Story:
    yield from telling.book(CHECK, on=next_visit_day(telling))


@role(8, 9, 10, 11, **UNSTITCHED, digit=Digit.INDEX)
def closed_with_strips(telling: Telling) -> Story:
    yield from telling.book(CHECK)


@role(15, 14, 16, 13, raised_risk=True, risks=["systemic-steroid", "inflammatory-arthritis"])
def slow_healer(telling: Telling) -> Story:
    (row,) = yield from telling.due(OUT)
    yield from telling.book(OUT, on=telling.open_from(max(row.target_on, telling.stage.today) + timedelta(days=3)))


# What the surgeon ordered, what was corrected, what the lead moved


@role(7, 8, 9, 6, risks=["dialysis-or-transplant"])
def ordered_to_stay_in(telling: Telling) -> Story:
    yield
    window = {"earliest": 16, "target": 18, "latest": 21}
    for item, days in (("stitches-out", window), ("heavy-lifting", {"locked": True})):
        by, by_whom = telling.by(telling.therapist), telling.episodes[0].surgeon
        instructions.give(telling.episodes[0], by=by, item=item, by_whom=by_whom, why="tendon repaired", **days)
    yield from telling.book(OUT)


@role(6, 7, 8, 9, digit=Digit.MIDDLE)
def order_to_be_confirmed(telling: Telling) -> Story:
    """The surgery date was corrected after the surgeon had counted days from it."""
    yield
    by, by_whom = telling.by(telling.therapist), telling.episodes[0].surgeon
    instructions.give(telling.episodes[0], by=by, item="tight-grip", by_whom=by_whom, why="swollen before", from_day=28)
    telling.correct(surgery_on=telling.surgery_on + timedelta(days=1))
    yield from telling.book(OUT)


@role(10, 11, 9, 8, site=QUAY_STREET)
def early_with_approval(telling: Telling) -> Story:
    telling.go(telling.open_from(telling.surgery_on + timedelta(days=2)))
    approved_by = telling.episodes[0].surgeon
    yield from telling.book(OUT, on=next_visit_day(telling), approved_by=approved_by)


@role(9, 8, 10, 11, side=Side.LEFT)
def moved_to_other_rules(telling: Telling) -> Story:
    yield
    telling.later(2)
    episodes.move_rules(telling.episodes[0], telling.stage.rules[TEN_TO_FOURTEEN], by=telling.by(telling.lead))
    yield from telling.book(OUT)
