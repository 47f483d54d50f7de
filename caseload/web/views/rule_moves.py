"""Open episodes moved to the version of the rules that is in force: all of them as long work, or one."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from caseload.actions import episodes, rule_changes
from caseload.actions.act import Repeated
from caseload.errors import Refusal
from caseload.reads.rule_changes import newer_than
from caseload.reads.rules import set_named
from caseload.web.clock import by_of
from caseload.web.forms.record import RecordForm
from caseload.web.views.answering import FORM_METHODS, Page, answer
from caseload.web.views.found import episode_at, named, to_episode


class MoveForm(RecordForm):
    """Nothing to fill in: what it would move is shown before."""


@require_POST
def move_open(request: HttpRequest) -> HttpResponse:
    by, rules = by_of(request), set_named(request.POST.get("set", ""))
    if rules is None:
        raise Http404
    try:
        return redirect("job", rule_changes.ask_move(rules, by=by).code)
    except Repeated as repeated:
        return redirect("job", repeated.outcome)
    except Refusal as refusal:
        messages.error(request, refusal.message)
        return redirect("rules")


@require_http_methods(FORM_METHODS)
def move_one(request: HttpRequest, code: str) -> HttpResponse:
    """What another version would change for one episode, and the button that moves it."""
    by, episode = by_of(request), episode_at(code)
    rules = newer_than(episode.rules)
    if rules is None or episode.ended_on:
        raise Http404
    note = f"From {episode.rules} to {rules}. What is done stays as it is."
    form = MoveForm(request.POST or None, today=by.today, initial={"version": episode.version})
    page = Page(
        "Move to other rules", "Move it", to_episode(episode), note, preview=episode,
        context=named(episode.patient, by, episode),
    )  # fmt: skip
    return answer(
        request, by, form, page,
        lambda by: episodes.move_rules(episode, rules, by=by, version=form.cleaned_data["version"]),
        to=lambda made: reverse("episode", args=[made]), saved=f"The episode is under {rules}.",
    )  # fmt: skip
