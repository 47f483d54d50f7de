"""Red flags: passed on to somebody, and closed with how they ended. Between the two they stay open."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_http_methods

from caseload.actions import findings
from caseload.actions.act import By
from caseload.models import Episode, Finding
from caseload.web.clock import by_of
from caseload.web.forms.red_flag import CloseFlagForm, EscalateForm
from caseload.web.views.answering import FORM_METHODS, Page, answer
from caseload.web.views.finding import about, finding_at
from caseload.web.views.found import episode_at, named, to_episode, who_it_is


@require_http_methods(FORM_METHODS)
def escalate(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    by, episode = by_of(request), episode_at(code)
    finding = finding_at(episode, pk)
    form = EscalateForm(request.POST or None, today=by.today)
    page = Page(
        "Escalate a red flag", "Save", to_episode(episode),
        f"{about(finding)} It stays open until its outcome is known.", context=_named(episode, finding, by),
    )  # fmt: skip
    return answer(
        request, by, who_it_is(form, page.context), page, lambda by: findings.escalate(finding, by=by, **form.said()),
        to=lambda _: to_episode(episode), saved="Recorded. The red flag stays open.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def close(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    by, episode = by_of(request), episode_at(code)
    finding = finding_at(episode, pk)
    passed_on = finding.escalations.last()
    initial = {"escalated_to": passed_on.to} if passed_on else {}
    form = CloseFlagForm(request.POST or None, today=by.today, initial=initial)
    page = Page(
        "Close a red flag", "Close it", to_episode(episode), about(finding), context=_named(episode, finding, by)
    )
    return answer(
        request, by, who_it_is(form, page.context), page,
        lambda by: findings.close_red_flag(finding, by=by, **form.said()),
        to=lambda _: to_episode(episode), saved="The red flag is closed.",
    )  # fmt: skip


def _named(episode: Episode, finding: Finding, by: By) -> dict[str, Any]:
    """The banner of the flag that the form is about leads nowhere else."""
    return named(episode.patient, by, episode) | {"about_flag": finding.pk}
