"""The cast whose hands were examined visit after visit: measures over time, and what is rare at a visit."""

from caseload.actions import findings, visits
from caseload.demo import looks
from caseload.demo.measuring import infection
from caseload.demo.roles import ABSORBABLE, USUAL, role
from caseload.demo.stories import heal, outcome, recovery, settle_doubts, therapy, trim
from caseload.demo.telling import Story, Telling
from caseload.demo.visits import visit
from caseload.measures.bodies import Pain, QuickDash
from caseload.measures.terms import MeasureKind
from caseload.models import Work
from caseload.timetable.terms import Digit, FindingKind, FollowUpKind, Side, WoundState

LEFT_OUT = (4, 9)
"""Places of the answers that were left out: with two missing there is no score."""


@role(50, 51, 52, 53, known=-9, work=Work.LIGHT_MANUAL)
def compared_with_before(telling: Telling) -> Story:
    telling.see_before()
    yield from recovery(telling)


@role(47, 48, 49, 50, known=-5, digit=Digit.THUMB, side=Side.LEFT, work=Work.HEAVY_MANUAL)
def thumb_compared_with_before(telling: Telling) -> Story:
    telling.see_before()
    yield from recovery(telling)


@role(44, 45, 46, 47, digit=Digit.MIDDLE)
def two_digits_seen_together(telling: Telling) -> Story:
    telling.open(rules=telling.episodes[0].rules, **(USUAL | {"digit": Digit.RING}))
    yield from recovery(telling)


@role(22, 23, 24, 25, **ABSORBABLE, side=Side.LEFT)
def ends_were_trimmed(telling: Telling) -> Story:
    yield from trim(telling)


@role(30, 31, 32, 33, digit=Digit.INDEX)
def answers_left_out(telling: Telling) -> Story:
    yield from heal(telling)
    yield from visit(telling, FollowUpKind.THERAPY_REVIEW, lambda _, episode: looks.look(
        episode, measured={MeasureKind.QUICKDASH: QuickDash(tuple(
            None if place in LEFT_OUT else 2 for place in range(11)
        ))},
    ))  # fmt: skip


@role(46, 47, 48, 49, side=Side.LEFT)
def opened_and_closed_again(telling: Telling) -> Story:
    yield from heal(telling)
    yield from visit(telling, FollowUpKind.THERAPY_REVIEW, looks.opened_again)
    yield from settle_doubts(telling)
    yield from outcome(telling)


@role(43, 44, 45, 46, digit=Digit.LITTLE, risks=["diabetes"])
def infected_and_over(telling: Telling) -> Story:
    """A superficial infection at the removal; an antibiotic for some days, and the wound closed."""
    yield from visit(telling, FollowUpKind.STITCHES_OUT, lambda _, episode: looks.look(
        episode, looks.all_out(episode), looks.wound(WoundState.CONCERN, note="red and warm along the edge"),
        measured={MeasureKind.INFECTION: infection(telling.day)},
    ))  # fmt: skip
    yield from settle_doubts(telling)
    yield from therapy(telling)
    yield from outcome(telling)


@role(36, 37, 38, 39, digit=Digit.THUMB)
def flag_passed_on(telling: Telling) -> Story:
    """A red flag was passed on the same day, and closed with its outcome the day after."""
    yield
    telling.later(6)
    flag = telling.found({"kind": FindingKind.RED_FLAG, "note": "held bent, painful to straighten since the morning"})
    surgeon = telling.episodes[0].surgeon
    findings.escalate(flag, by=telling.by(telling.therapist), to=surgeon)
    telling.later(1)
    by = telling.by(telling.therapist)
    findings.close_red_flag(flag, by=by, escalated_to=surgeon, outcome="seen the same evening: bruised, no infection")
    yield from recovery(telling)


@role(29, 30, 31, 32, digit=Digit.MIDDLE)
def written_down_wrongly(telling: Telling) -> Story:
    """A wound finding corrected the next day, and a visit withdrawn that was of the other hand."""
    yield from heal(telling)
    telling.later(1)
    wrong = telling.found(looks.wound(WoundState.NOT_CLOSED))
    concern = looks.wound(WoundState.CONCERN, note="swollen, warm")
    other = telling.see([looks.look(telling.episodes[0], concern, measured={MeasureKind.PAIN: Pain(6)})])
    telling.later(1)
    by = telling.by(telling.therapist)
    findings.correct(wrong, by=by, wound=WoundState.CLOSED, note="meant: closed")
    visits.withdraw(other, by=by, why="recorded of the wrong hand: it was the left one")
    telling.examination.closed.add(telling.episodes[0].pk)
    yield from therapy(telling)
