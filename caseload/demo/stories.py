"""How a hand recovers, from the theatre list to the discharge, with the troubles that an ordinary clinic has."""

from datetime import timedelta
from typing import Any

from caseload.actions import findings, instructions
from caseload.demo import looks
from caseload.demo.hands import closed_with
from caseload.demo.people import REPORTERS
from caseload.demo.telling import Story, Telling
from caseload.demo.visits import visit
from caseload.models import ReferralEnd
from caseload.timetable.terms import Ending, FindingKind, FollowUpKind, Outcome, Source, Suture


def recovery(telling: Telling) -> Story:
    """The whole way. Everything after the day the stage ends is left untold."""
    early_days(telling)
    if telling.episodes[0].suture == Suture.UNKNOWN:
        ask_theatre(telling)
    yield from heal(telling)
    yield from therapy(telling)
    yield from outcome(telling)
    discharge(telling)


def early_days(telling: Telling) -> None:
    """What may come before the first visit: an order of the surgeon, a worry on the telephone."""
    telling.later(0)
    if telling.chance(0.05):
        order(telling)
    if telling.chance(0.02):
        telling.go(telling.open_from(telling.surgery_on + timedelta(days=telling.rng.randrange(3, 9))))
        worry(telling, source=Source.PATIENT)


def order(telling: Telling) -> None:
    """The surgeon orders something else than the rules say."""
    items: list[dict[str, Any]] = [
        {"item": "heavy-lifting", "from_day": 42, "why": "tendon repaired as well"},
        {"item": "tight-grip", "from_day": 28, "why": "swollen before the operation"},
        {"item": "driving", "from_day": 10, "why": "two digits of one hand"},
        {"item": "outcome-review", "earliest": 28, "target": 35, "latest": 42, "why": "wants to see them early"},
    ]
    said, telling.examination.ordered = telling.rng.choice(items), True
    for episode in telling.episodes:
        instructions.give(episode, by=telling.by(telling.therapist), by_whom=episode.surgeon, **said)


def worry(telling: Telling, source: Source) -> None:
    """A red flag, escalated at once, and closed with its outcome a day or two later."""
    note = telling.rng.choice(["spreading redness, warm", "finger held bent, painful to straighten", "new numbness"])
    flag = telling.found({"kind": FindingKind.RED_FLAG, "note": note}, source)
    surgeon = telling.episodes[0].surgeon
    telling.later(telling.rng.randrange(0, 3))
    result = telling.rng.choice(["seen the same day, antibiotic for five days", "seen, nothing found", "seen, watched"])
    by = telling.by(telling.therapist)
    findings.close_red_flag(flag, by=by, escalated_to=surgeon, outcome=result)


def ask_theatre(telling: Telling) -> None:
    """Mostly theatre knows within the week what it sewed with."""
    if telling.chance(0.8):
        telling.later(telling.rng.randrange(1, 6))
        suture = telling.rng.choice([Suture.NON_ABSORBABLE, Suture.NON_ABSORBABLE, Suture.ABSORBABLE, Suture.NONE])
        telling.correct(**closed_with(telling.rng, suture))


def heal(telling: Telling) -> Story:
    """Until stitches are out and wounds closed on record."""
    suture = telling.episodes[0].suture
    if (yield from telling.due(FollowUpKind.STITCHES_OUT)):
        yield from take_out(telling)
    elif suture == Suture.ABSORBABLE and telling.chance(0.08):
        yield from trim(telling)
    elif suture == Suture.UNKNOWN:
        yield from visit(telling, FollowUpKind.WOUND_CHECK, looks.stitches_found, in_person=True)
    elif telling.chance(0.08):
        yield from pictured(telling)
    else:
        yield from visit(telling, FollowUpKind.WOUND_CHECK, looks.first_look)
    yield from settle_doubts(telling)


def take_out(telling: Telling) -> Story:
    if telling.chance(0.04):
        yield from removed_elsewhere(telling)
    else:
        yield from visit(telling, FollowUpKind.STITCHES_OUT, looks.first_removal)


def settle_doubts(telling: Telling) -> Story:
    """Re-checks, until there is none left."""
    while due := (yield from telling.due(FollowUpKind.STITCHES_RECHECK, FollowUpKind.WOUND_RECHECK)):
        if any(row.kind == FollowUpKind.STITCHES_RECHECK for row in due):
            yield from visit(telling, FollowUpKind.STITCHES_RECHECK, looks.last_removal)
        else:
            yield from visit(telling, FollowUpKind.WOUND_RECHECK, looks.second_look)


def removed_elsewhere(telling: Telling) -> Story:
    """A practice nurse takes them out and says so; here somebody must look before anything is unlocked."""
    booked = yield from telling.book(FollowUpKind.STITCHES_OUT)
    telling.later(max(1, (booked.appointment.on - telling.day).days - 2))
    reporter = telling.rng.choice(REPORTERS)
    report = telling.see(
        [looks.look(episode, looks.all_out(episode)) for episode in telling.episodes],
        Source.REPORTED, reported_by=reporter,
    )  # fmt: skip
    telling.ended(booked, Outcome.CANCELLED_BY_PATIENT, "stitches taken out at the practice")
    if telling.chance(0.5):
        telling.later(1)
        telling.vouch(report)


def pictured(telling: Telling) -> Story:
    """The patient sends a picture; a therapist looks at it and vouches for it."""
    due = yield from telling.due(FollowUpKind.WOUND_CHECK)
    telling.go(telling.open_from(due[0].target_on))
    seen = [looks.look(episode, looks.wound()) for episode in telling.episodes]
    telling.vouch(telling.see(seen, Source.PHOTO))
    telling.examination.heed(seen)


def trim(telling: Telling) -> Story:
    """Ends of absorbable stitches stand out; they are trimmed at the wound check."""
    yield from visit(telling, FollowUpKind.WOUND_CHECK, looks.trimmed, in_person=True)


def therapy(telling: Telling) -> Story:
    """For those referred for it: a first review, often a second; a wound that opened again is seen to first."""
    again = telling.chance(0.4)
    while (yield from telling.due(FollowUpKind.THERAPY_REVIEW)):
        yield from visit(telling, FollowUpKind.THERAPY_REVIEW, looks.glance_and_review if again else looks.glance)
        yield from settle_doubts(telling)
    if (yield from telling.due(FollowUpKind.SET_REVIEW)):
        yield from visit(telling, FollowUpKind.SET_REVIEW, looks.glance)
        yield from settle_doubts(telling)


def outcome(telling: Telling) -> Story:
    """Booked some weeks ahead; some leave the caseload at it."""
    leaves = telling.chance(0.2)
    telling.go(telling.open_from(telling.surgery_on + timedelta(days=telling.rng.randrange(17, 31))))
    yield from visit(telling, FollowUpKind.OUTCOME_REVIEW, looks.last_glance if leaves else looks.glance)
    yield from settle_doubts(telling)


def discharge(telling: Telling) -> None:
    """Who did not leave at the outcome review: most between day 60 and day 90, a few when somebody notices."""
    if not all(episode.ended_on for episode in telling.episodes):
        day = round(telling.rng.triangular(57, 100, 84))
        telling.go(telling.open_from(telling.surgery_on + timedelta(days=day)))
        telling.close(Ending.DISCHARGED)
    telling.end_referral(telling.therapist, ReferralEnd.COMPLETED)
