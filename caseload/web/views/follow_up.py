"""Follow-ups carried out, and reviews set."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_http_methods

from caseload.access import Act
from caseload.actions import reviews
from caseload.models import FollowUp
from caseload.timetable.terms import FollowUpKind
from caseload.web.forms.care import DoneForm, ReviewForm
from caseload.web.views.answering import FORM_METHODS, Page, allow, answer
from caseload.web.views.found import episode_at, named, to_episode
from caseload.wording import label, say_date


@require_http_methods(FORM_METHODS)
def done(request: HttpRequest, code: str, key: str) -> HttpResponse:
    by, episode = allow(request, Act.FOLLOW_UP_COMPLETE), episode_at(code)
    follow_up = get_object_or_404(FollowUp, episode=episode, key=key)
    follow_up.episode = episode
    form = DoneForm(request.POST or None, today=by.today, since=episode.surgery_on, initial={"on": by.today})
    title = f"{label(FollowUpKind(follow_up.kind))}: carried out"
    about = f"Window {say_date(follow_up.earliest_on)} to {say_date(follow_up.latest_on)}."
    page = Page(title, "Save", to_episode(episode), about, episode, context=named(episode.patient, by, episode))
    return answer(
        request, by, form, page, lambda by: reviews.complete(follow_up, by=by, **form.said()),
        to=lambda _: to_episode(episode, "follow-ups"), saved="Recorded as carried out.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def set_review(request: HttpRequest, code: str) -> HttpResponse:
    by, episode = allow(request, Act.REVIEW_SET), episode_at(code)
    form = ReviewForm(request.POST or None, today=by.today, since=episode.surgery_on, initial={"on": by.today})
    context = named(episode.patient, by, episode)
    page = Page("Set a review", "Set the review", to_episode(episode), preview=episode, context=context)
    return answer(
        request, by, form, page, lambda by: reviews.set_review(episode, by=by, **form.said()),
        to=lambda _: to_episode(episode, "follow-ups"), saved="The review is set. It still needs a day.",
    )  # fmt: skip
