"""Follow-ups carried out, and reviews set or withdrawn."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_http_methods

from caseload.actions import reviews
from caseload.models import Episode, FollowUp, SetReview
from caseload.timetable.terms import FollowUpKind
from caseload.web.clock import by_of
from caseload.web.forms.care import DoneForm, ReviewForm
from caseload.web.forms.record import RecordForm
from caseload.web.views.answering import FORM_METHODS, Page, answer
from caseload.web.views.foreseen import foreseen
from caseload.web.views.found import episode_at, named, to_episode, who_it_is
from caseload.wording import label, say_date


@require_http_methods(FORM_METHODS)
def done(request: HttpRequest, code: str, key: str) -> HttpResponse:
    by, episode = by_of(request), episode_at(code)
    follow_up = get_object_or_404(FollowUp, episode=episode, key=key)
    follow_up.episode = episode
    form = DoneForm(request.POST or None, today=by.today, since=episode.surgery_on, initial={"on": by.today})
    title = f"{label(FollowUpKind(follow_up.kind))}: done"
    about = f"Window {say_date(follow_up.earliest_on)} to {say_date(follow_up.latest_on)}."
    context = named(episode.patient, by, episode)
    page = Page(title, "Save", to_episode(episode), about, episode, context=context)
    return answer(
        request, by, who_it_is(form, context), page, lambda by: reviews.complete(follow_up, by=by, **form.said()),
        to=lambda _: to_episode(episode, "follow-ups"), saved="Recorded as done.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def set_review(request: HttpRequest, code: str) -> HttpResponse:
    by, episode = by_of(request), episode_at(code)
    form = ReviewForm(request.POST or None, today=by.today, since=episode.surgery_on, initial={"on": by.today})
    context = named(episode.patient, by, episode)
    page = Page("Set a review", "Set the review", to_episode(episode), preview=episode, context=context)
    return answer(
        request, by, who_it_is(form, context), page, lambda by: reviews.set_review(episode, by=by, **form.said()),
        to=lambda _: to_episode(episode, "follow-ups"), saved="The review is set. It still needs a day.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def withdraw_review(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """A review that is not wanted any more; what it drops is shown first."""
    by, episode = by_of(request), episode_at(code)
    review = _review_at(episode, pk)
    context = named(episode.patient, by, episode)
    if request.method == "GET":
        context["moves"] = foreseen(code, lambda row: reviews.withdraw(_review_at(row, pk), by=by), by)
    about = (
        f"Set for {review.in_days} days after the visit of {say_date(review.on)}. "
        "What is booked for it stands on the page of the episode then, to be cancelled."
    )
    form = who_it_is(RecordForm(request.POST or None, today=by.today), context)
    page = Page("Withdraw a review", "Withdraw it", to_episode(episode), about, episode, context=context)
    return answer(
        request, by, form, page, lambda by: reviews.withdraw(review, by=by),
        to=lambda _: to_episode(episode, "follow-ups"), saved="The review is withdrawn.",
    )  # fmt: skip


def _review_at(episode: Episode, pk: int) -> SetReview:
    review = get_object_or_404(SetReview, episode=episode, pk=pk)
    review.episode = episode
    return review
