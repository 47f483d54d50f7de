"""Findings: corrected, withdrawn, countersigned."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_http_methods, require_POST

from caseload.actions import findings
from caseload.models import Episode, Finding
from caseload.timetable.terms import Source
from caseload.web.clock import by_of
from caseload.web.forms.finding import CorrectFindingForm, WithdrawForm
from caseload.web.views.answering import FORM_METHODS, Page, answer, press
from caseload.web.views.found import episode_at, named, to_episode, who_it_is
from caseload.wording import label, say_date
from caseload.wording.record import say_found


def finding_at(episode: Episode, pk: int) -> Finding:
    """A finding of this episode; its own links lead back to the same episode object."""
    finding = get_object_or_404(Finding.objects.select_related("countersignature", "closure"), episode=episode, pk=pk)
    finding.episode = episode
    return finding


@require_http_methods(FORM_METHODS)
def correct(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    by, episode = by_of(request), episode_at(code)
    finding = finding_at(episode, pk)
    form = CorrectFindingForm(request.POST or None, finding=finding, today=by.today)
    context = named(episode.patient, by, episode)
    page = Page(
        "Correct a finding",
        "Save the correction",
        to_episode(episode),
        about(finding),
        preview=episode,
        context=context,
    )
    return answer(
        request, by, who_it_is(form, context), page, lambda by: findings.correct(finding, by=by, **form.said()),
        to=lambda _: to_episode(episode, "findings"), saved="The finding is corrected; the earlier one stays readable.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def withdraw(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    by, episode = by_of(request), episode_at(code)
    finding = finding_at(episode, pk)
    form = WithdrawForm(request.POST or None, today=by.today)
    context = named(episode.patient, by, episode)
    page = Page("Withdraw a finding", "Withdraw it", to_episode(episode), about(finding), episode, context=context)
    return answer(
        request, by, who_it_is(form, context), page, lambda by: findings.withdraw(finding, by=by, **form.said()),
        to=lambda _: to_episode(episode, "findings"), saved="The finding is withdrawn; it stays readable.",
    )  # fmt: skip


@require_POST
def countersign(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    by, episode = by_of(request), episode_at(code)
    finding = finding_at(episode, pk)
    return press(
        request, by, lambda by: findings.countersign(finding, by=by), to=to_episode(episode, "findings"),
        saved="The finding is countersigned.",
    )  # fmt: skip


def about(finding: Finding) -> str:
    """Which finding a page is about: what it says, its day and its source."""
    said = f"{say_found(finding)}{': ' if finding.note else ''}{finding.note}"
    return f"{said}; {say_date(finding.on)}, {label(Source(finding.source))}."
