"""A digit that was operated on again: its new episode is opened and the old one closed by one form."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from caseload.access import Act, demand
from caseload.actions import episodes
from caseload.models import Episode
from caseload.reads.rules import in_force
from caseload.web.forms.episode import EpisodeForm, facts_now
from caseload.web.views.answering import Page, allow, answer
from caseload.web.views.found import episode_at, named, to_episode
from caseload.wording.record import say_hand

SHARED = (
    "side", "digit", "surgeon", "site", "therapist", "referral", "for_therapy", "risks", "raised_risk", "dominant",
    "work",
)  # fmt: skip
"""Facts that a second operation mostly shares with the first."""


def operated_again(request: HttpRequest, old: Episode) -> HttpResponse:
    """Nothing is closed before this is saved; then both are done or neither."""
    by, patient = allow(request, Act.EPISODE_REOPERATE), old.patient
    for other in (Act.EPISODE_OPEN, Act.EPISODE_CLOSE):
        demand(by.roles, other)
    initial = {name: facts_now(old)[name] for name in SHARED} | {"version": old.version}
    form = EpisodeForm(request.POST or None, today=by.today, patient=patient, initial=initial)
    page = Page(
        "Operated on again", "Open the new episode, close the earlier one", to_episode(old), _about(old),
        context=named(patient, by), now=lambda: _now(old.code), cautions=True,
    )  # fmt: skip
    return answer(
        request, by, form, page,
        lambda by: episodes.reoperate(
            old, by=by, version=form.cleaned_data["version"], on=form.cleaned_data["surgery_on"] or by.today,
            **form.said(),
        ),
        to=lambda made: reverse("episode", args=[made]),
        saved="The new episode is open. The earlier one is closed, and its appointments are cancelled.",
    )  # fmt: skip


def _about(old: Episode) -> str:
    rules = in_force()
    return (
        f"The second operation on the {say_hand(old)}. Saving closes the earlier episode in the same step; until then "
        f"it stays open. The new one is opened under the rules in force: {rules.title}, version {rules.version}."
    )


def _now(code: str) -> tuple[int, dict[str, Any]]:
    """What the form began with, as it is now."""
    old = episode_at(code)
    return old.version, {name: facts_now(old)[name] for name in SHARED}
