"""The cast that needs somebody: every headline, each with its usual ways of coming about."""

from datetime import timedelta

from caseload.actions import findings, reviews
from caseload.demo import looks
from caseload.demo.people import QUAY_STREET
from caseload.demo.roles import UNKNOWN, last_visit_day, role
from caseload.demo.stories import heal, outcome, therapy
from caseload.demo.telling import Story, Telling
from caseload.demo.visits import attend, visit
from caseload.models import How, Reached, Told
from caseload.timetable.terms import Digit, FindingKind, FollowUpKind, Outcome, Side, Source, Suture, WoundState

OUT, CHECK, OUTCOME = FollowUpKind.STITCHES_OUT, FollowUpKind.WOUND_CHECK, FollowUpKind.OUTCOME_REVIEW


@role(8, 9, 10, 11, digit=Digit.INDEX)
def red_flag_of_today(telling: Telling) -> Story:
    yield from telling.book(OUT)
    telling.until = telling.stage.today
    telling.go(telling.stage.today)
    flag = {"kind": FindingKind.RED_FLAG, "note": "rang: spreading redness since last night"}
    telling.found(flag, Source.PATIENT)


@role(6, 7, 8, 9, side=Side.LEFT, digit=Digit.MIDDLE)
def red_flag_left_open(telling: Telling) -> Story:
    yield from telling.book(OUT)
    telling.go(last_visit_day(telling))
    flag = telling.found({"kind": FindingKind.RED_FLAG, "note": "new numbness along the digit"})
    findings.escalate(flag, by=telling.by(telling.therapist), to=f"{telling.episodes[0].surgeon}, by telephone")


@role(24, 25, 26, 27)
def stitches_never_seen_out(telling: Telling) -> Story:
    booked = yield from telling.book(OUT)
    telling.go(booked.appointment.on)
    telling.ended(booked, Outcome.DID_NOT_ATTEND)
    telling.ring(Reached.WRONG, "The number belongs to somebody else.")
    telling.later(1)
    telling.ring(Reached.NO_ANSWER, "Wrote to the address on the referral.", how=How.LETTER)


@role(26, 27, 28, 29, digit=Digit.LITTLE, risks=["diabetes", "smoking"])
def wound_slow_to_close(telling: Telling) -> Story:
    yield from visit(telling, OUT, lambda _, episode: looks.look(
        episode, looks.all_out(episode), looks.wound(WoundState.NOT_CLOSED)
    ))  # fmt: skip
    while True:
        yield from visit(telling, FollowUpKind.WOUND_RECHECK, lambda _, episode: looks.look(
            episode, looks.wound(WoundState.NOT_CLOSED, note="2 mm left, clean")
        ))  # fmt: skip


@role(47, 48, 49, 50, digit=Digit.THUMB)
def wound_open_again(telling: Telling) -> Story:
    yield from heal(telling)
    yield from therapy(telling)
    telling.go(last_visit_day(telling))
    telling.found(looks.wound(WoundState.NOT_CLOSED, note="opened at work"))
    yield from telling.book(FollowUpKind.WOUND_RECHECK)


@role(86, 87, 88, 89)
def all_done_but_not_closed(telling: Telling) -> Story:
    yield from heal(telling)
    yield from therapy(telling)
    yield from outcome(telling)
    telling.go(telling.open_from(telling.surgery_on + timedelta(days=78)))
    (task,) = yield from telling.due(FollowUpKind.CLOSE)
    reviews.complete(task, by=telling.by(telling.therapist), on=telling.day, note="letter to the referrer sent")


@role(9, 10, 11, 12, **UNKNOWN)
def suture_not_known(telling: Telling) -> Story:
    yield from telling.book(CHECK)
    telling.ring(Reached.NO_ANSWER, "Theatre: asked what the skin was closed with.")


@role(3, 4, 5, 6, digit="")
def digit_not_known(telling: Telling) -> Story:
    yield from telling.book(OUT)


@role(2, 3, 4, 5, side="", site=QUAY_STREET)
def side_not_known(telling: Telling) -> Story:
    yield from telling.book(OUT)


@role(4, 5, 6, 7, surgery_on=None)
def date_not_known(telling: Telling) -> Story:
    yield
    telling.ring(Reached.MESSAGE, "Day surgery unit: asked for the date.")


@role(14, 13, 15, 12, before_visit=True)
def removal_without_outcome(telling: Telling) -> Story:
    yield from telling.book(OUT, on=last_visit_day(telling))


@role(42, 41, 43, 40, before_visit=True, site=QUAY_STREET, digit=Digit.THUMB)
def outcome_review_without_outcome(telling: Telling) -> Story:
    yield from heal(telling)
    yield from therapy(telling)
    yield from telling.book(OUTCOME, on=last_visit_day(telling))


@role(14, 13, 15, 12, before_visit=True, digit=Digit.MIDDLE)
def missed_once(telling: Telling) -> Story:
    booked = yield from telling.book(OUT, on=last_visit_day(telling))
    telling.go(last_visit_day(telling))
    telling.ended(booked, Outcome.DID_NOT_ATTEND)
    telling.ring(Reached.NO_ANSWER, "Did not attend; rang, no answer.")


@role(50, 51, 49, 52, before_visit=True)
def missed_twice(telling: Telling) -> Story:
    yield from heal(telling)
    yield from therapy(telling)
    for on in (None, last_visit_day(telling)):
        booked = yield from telling.book(OUTCOME, on=on)
        telling.go(booked.appointment.on)
        telling.ended(booked, Outcome.DID_NOT_ATTEND)
        telling.ring(Reached.MESSAGE, "Did not attend; message left.")
        telling.later(1)


@role(11, 12, 10, 13, side=Side.LEFT)
def cancelled_and_not_rebooked(telling: Telling) -> Story:
    booked = yield from telling.book(OUT)
    telling.go(last_visit_day(telling))
    telling.ended(booked, Outcome.CANCELLED_BY_PATIENT, "away, will ring")


@role(15, 16, digit=Digit.LITTLE)
def nearly_late(telling: Telling) -> Story:
    yield


@role(18, 19, 20, 21, site=QUAY_STREET)
def late(telling: Telling) -> Story:
    yield
    telling.ring(Reached.NO_ANSWER, "Rang to book; no answer.")


@role(59, 60, 61, 62, digit=Digit.INDEX)
def outcome_review_late(telling: Telling) -> Story:
    yield from heal(telling)
    yield from therapy(telling)


@role(9, 10, 11, 12)
def booked_too_late(telling: Telling) -> Story:
    (row,) = yield from telling.due(OUT)
    yield from telling.book(OUT, on=telling.open_from(row.latest_on + timedelta(days=1)))


@role(93, 94, 95, 96, suture=Suture.NONE, stitches_in=None, material="", for_therapy=False)
def not_closed_in_time(telling: Telling) -> Story:
    yield from heal(telling)
    yield from outcome(telling)


@role(12, 11, 13, 10, digit=Digit.MIDDLE)
def moved_and_untold(telling: Telling) -> Story:
    first = yield from telling.book(OUT)
    telling.later(1)
    telling.ended(first, Outcome.CANCELLED_BY_CLINIC, "therapist ill")
    telling.tell(first)
    yield from telling.book(OUT, told=Told.UNTOLD)


@role(14, 15, 13, 12, before_visit=True, digit=Digit.THUMB)
def two_reasons_at_once(telling: Telling) -> Story:
    """Left in by one stitch, and then nobody booked the re-check."""
    booked = yield from telling.book(OUT, on=last_visit_day(telling))
    telling.go(booked.appointment.on)
    attend(telling, booked, lambda _, episode: looks.look(
        episode, looks.removal(3, 1), looks.wound(WoundState.NOT_CLOSED)
    ))  # fmt: skip
