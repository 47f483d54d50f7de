"""An episode closed, in one act: its appointments are cancelled, what is due is dropped, its clocks end.

One that was operated on again is closed by opening the next: until that form is saved, nothing is closed.
"""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from caseload.access import Act
from caseload.actions import episodes
from caseload.actions.closing import successor
from caseload.timetable.terms import Ending
from caseload.web.forms.episode import CloseForm
from caseload.web.views.answering import FORM_METHODS, Page, allow, answer
from caseload.web.views.found import episode_at, named, to_episode


@require_http_methods(FORM_METHODS)
def close(request: HttpRequest, code: str) -> HttpResponse:
    by, episode = allow(request, Act.EPISODE_CLOSE), episode_at(code)
    initial = {"on": by.today, "version": episode.version}
    form = CloseForm(request.POST or None, today=by.today, since=episode.surgery_on, initial=initial)
    if _was_operated_again(form) and episode.ended_on is None and successor(episode, by.today) is None:
        return redirect(reverse("episode-new", args=[episode.patient.code]) + f"?after={code}")
    context = named(episode.patient, by, episode)
    page = Page(
        "Close the episode", "Close the episode", to_episode(episode), preview=episode, context=context,
        now=lambda: _now(code), cautions=True,
    )  # fmt: skip
    return answer(
        request, by, form, page, lambda by: episodes.close(episode, by=by, **form.said_of()),
        to=lambda _: to_episode(episode), saved="The episode is closed. Its appointments are cancelled.",
    )  # fmt: skip


def _now(code: str) -> tuple[int, dict[str, Any]]:
    episode = episode_at(code)
    return episode.version, {"how": episode.ended_how, "on": episode.ended_on, "received_by": episode.received_by}


def _was_operated_again(form: CloseForm) -> bool:
    return form.is_bound and form.is_valid() and form.cleaned_data["how"] == Ending.REOPERATION
