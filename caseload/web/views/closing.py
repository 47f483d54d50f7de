"""An episode closed, in one act: its appointments are cancelled, what is due is dropped, its clocks end. And one that
was closed by mistake, open again.

One that was operated on again is closed by opening the next: until that form is saved, nothing is closed.
"""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from caseload.actions import episodes
from caseload.actions.closing import successor, what_is_unsafe, wound_is_open
from caseload.models import Episode
from caseload.timetable.terms import Ending
from caseload.web.clock import by_of
from caseload.web.forms.episode import CloseForm, ReopenForm
from caseload.web.views.answering import FORM_METHODS, Page, answer
from caseload.web.views.cautious import cautious
from caseload.web.views.foreseen import foreseen
from caseload.web.views.found import episode_at, named, to_episode, who_it_is


@require_http_methods(FORM_METHODS)
def close(request: HttpRequest, code: str) -> HttpResponse:
    by, episode = by_of(request), episode_at(code)
    initial = {"on": by.today, "version": episode.version}
    form = CloseForm(request.POST or None, today=by.today, since=episode.surgery_on, initial=initial)
    if _was_operated_again(form) and episode.ended_on is None and successor(episode, by.today) is None:
        return redirect(reverse("episode-new", args=[episode.patient.code]) + f"?after={code}")
    context = named(episode.patient, by, episode)
    page = Page(
        "Close the episode", "Close the episode", to_episode(episode), preview=episode, context=context,
        now=lambda: _now(code), cautions=True, caution="episode/open_wound.html",
    )  # fmt: skip
    return cautious(
        request, by, form, page, lambda by: episodes.close(episode, by=by, **form.said_of()),
        lambda _: "preview" not in request.POST and _leaves_a_wound(form, episode),
        to=lambda _: to_episode(episode), saved="The episode is closed. Its appointments are cancelled.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def reopen(request: HttpRequest, code: str) -> HttpResponse:
    """Closed by mistake: what opening it again makes due is shown first."""
    by, episode = by_of(request), episode_at(code)
    context = named(episode.patient, by, episode)
    form = ReopenForm(request.POST or None, today=by.today, initial={"version": episode.version})
    if request.method == "GET":
        context["moves"] = foreseen(code, lambda row: episodes.reopen(row, by=by, version=None, why="-"), by)
    page = Page(
        "Open the episode again", "Open it again", to_episode(episode), _comes_back(episode), episode,
        now=lambda: _now(code), context=context,
    )  # fmt: skip
    return answer(
        request, by, who_it_is(form, context), page, lambda by: episodes.reopen(episode, by=by, **form.said_of()),
        to=lambda _: to_episode(episode), saved="The episode is open again.",
    )  # fmt: skip


def _comes_back(episode: Episode) -> str:
    said = "What is due stands on the booking list again; what was cancelled stays cancelled."
    if episode.ended_how == Ending.DIED:
        return (
            "The patient was said to have died. All that was closed with it is open again, referrals too. " + said + " "
            "If an appointment to come was cancelled without a word, the patient is to be told."
        )
    return said


def _leaves_a_wound(form: CloseForm, episode: Episode) -> bool:
    """Whether this discharges somebody whose wound is not on record as closed; what is refused anyway asks nothing."""
    discharges = form.cleaned_data["how"] == Ending.DISCHARGED and episode.ended_on is None
    return discharges and what_is_unsafe(episode) is None and wound_is_open(episode)


def _now(code: str) -> tuple[int, dict[str, Any]]:
    episode = episode_at(code)
    return episode.version, {"how": episode.ended_how, "on": episode.ended_on, "received_by": episode.received_by}


def _was_operated_again(form: CloseForm) -> bool:
    return form.is_bound and form.is_valid() and form.cleaned_data["how"] == Ending.REOPERATION
