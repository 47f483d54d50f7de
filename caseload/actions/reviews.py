"""Reviews: set in n days, and follow-ups that are carried out without a finding of their own."""

from datetime import date

from caseload.access import Act
from caseload.actions.act import By, act, fresh, trail
from caseload.actions.settle import settle
from caseload.errors import Refusal
from caseload.models import Completion, Episode, FollowUp, SetReview, State
from caseload.timetable.terms import FollowUpKind

BY_FINDING = (FollowUpKind.STITCHES_OUT, FollowUpKind.STITCHES_RECHECK, FollowUpKind.WOUND_RECHECK)
"""Done only by what is found: nobody ticks a removal off."""


@act(Act.REVIEW_SET)
def set_review(episode: Episode, *, by: By, on: date, in_days: int, minutes: int = 20) -> SetReview:
    """Ask for a review in `in_days` days from the visit of `on`."""
    fresh(episode, None)
    if episode.ended_on:
        raise Refusal("episode-closed", "This episode is closed.")
    if not 1 <= in_days <= 365:
        raise Refusal("review-days", "Give a number of days from 1 to 365.", field="in_days")
    if on > by.today or (episode.surgery_on and on < episode.surgery_on):
        raise Refusal("review-visit-day", "The visit lies between the surgery and today.", field="on")
    review = SetReview.objects.create(
        episode=episode, on=on, in_days=in_days, minutes=minutes, by=by.person, recorded_at=by.at
    )
    trail(Act.REVIEW_SET, review, by=by, patient_id=episode.patient_id, changed=settle(episode))
    return review


@act(Act.REVIEW_WITHDRAW)
def withdraw(review: SetReview, *, by: By) -> SetReview:
    """Say that a review is not wanted any more; what was booked for it is offered for cancelling."""
    episode = review.episode
    fresh(episode, None)
    review.refresh_from_db()
    if review.withdrawn_at:
        raise Refusal("withdrawn-already", "This review is withdrawn already.")
    review.withdrawn_at = by.at
    review.save(update_fields=["withdrawn_at"])
    trail(Act.REVIEW_WITHDRAW, review, by=by, patient_id=episode.patient_id, changed=settle(episode))
    return review


@act(Act.FOLLOW_UP_COMPLETE)
def complete(follow_up: FollowUp, *, by: By, on: date, note: str = "") -> Completion:
    """Say that a follow-up was carried out. A removal and a re-check are done by what is found, never by a tick."""
    episode = follow_up.episode
    fresh(episode, None)
    if follow_up.kind in BY_FINDING:
        raise Refusal("needs-a-finding", "Record what was found: that completes it.")
    if follow_up.state != State.DUE:
        raise Refusal("not-due", "This follow-up is not due any more.")
    if on > by.today or on < follow_up.anchor_on and not follow_up.provisional:
        raise Refusal("done-day", "Give a day from its beginning up to today.", field="on")
    done = Completion.objects.create(follow_up=follow_up, on=on, note=note, by=by.person, recorded_at=by.at)
    moved = settle(episode)
    trail(Act.FOLLOW_UP_COMPLETE, done, by=by, patient_id=episode.patient_id, changed=moved)
    return done
