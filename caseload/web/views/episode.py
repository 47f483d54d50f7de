"""The episode: its page, opened, corrected."""

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_safe

from caseload.access import Act, may
from caseload.actions import episodes
from caseload.actions.act import By
from caseload.actions.looks import looked
from caseload.models import Episode, Patient, RuleSet, Site
from caseload.reads.episode import EpisodePage, episode_page
from caseload.reads.measured import measured_of
from caseload.reads.needless import needless
from caseload.reads.notices_of import notices_of
from caseload.reads.particulars import facts_in_words, warnings_of
from caseload.reads.rule_changes import newer_than
from caseload.reads.rules import in_force
from caseload.reads.undoable import undoable
from caseload.timetable.terms import Lock
from caseload.web import dayline
from caseload.web.clock import by_of, staff_of
from caseload.web.forms.episode import EpisodeForm, facts_now
from caseload.web.measure_chart import charts
from caseload.web.views.answering import FORM_METHODS, Page, answer
from caseload.web.views.found import episode_at, named, patient_at, to_episode, to_patient
from caseload.web.views.reoperation import operated_again
from caseload.wording.speech import speech


@require_safe
def show(request: HttpRequest, code: str) -> HttpResponse:
    by, episode = by_of(request), episode_at(code)
    looked(episode.patient, by=by, route="episode")
    page = episode_page(episode, today=by.today)
    context = named(episode.patient, by, episode) | {
        "page": page,
        "line": dayline.large(page.line, page.whys()) if page.line else "",
        "gates": _gates(page),
        "facts": facts_in_words(episode),
        "written": notices_of(episode.patient, episode),
    }
    context |= {
        "newer": _newer(episode, by),
        "measured": (known := measured_of(episode)),
        "charts": charts(known.series, episode.surgery_on),
        "needless": needless(episode.patient_id, by.today),
        "steps": undoable(staff_of(request), by.at, patient=episode.patient_id),
        "back": to_episode(episode, "appointments"),
    }
    context["warnings"] += [*warnings_of(episode, page.timetable.marks), *page.to_countersign]
    return render(request, "episode/page.html", context)


def _newer(episode: Episode, by: By) -> RuleSet | None:
    """The version that is in force instead of its own, for whoever may move it there."""
    able = may(by.roles, Act.EPISODE_MOVE_RULES) and not episode.ended_on
    return newer_than(episode.rules) if able else None


@require_http_methods(FORM_METHODS)
def add(request: HttpRequest, code: str) -> HttpResponse:
    """Open an episode; `?like=` starts from another of the same day, `?after=` closes one that was operated again."""
    by, patient = by_of(request), patient_at(code)
    if after := _own(request, patient, "after"):
        return operated_again(request, after)
    form = EpisodeForm(request.POST or None, today=by.today, patient=patient, initial=_first_values(request, patient))
    rules = in_force()
    about = f"It is opened under the rules in force: {rules.title}, version {rules.version}."
    page = Page("Open an episode", "Open the episode", to_patient(patient), about, context=named(patient, by))
    return answer(
        request, by, form, page, lambda by: episodes.open_episode(patient, by=by, **form.said()),
        to=lambda made: reverse("episode", args=[made]), saved="The episode is open.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def correct(request: HttpRequest, code: str) -> HttpResponse:
    by, episode = by_of(request), episode_at(code)
    initial = {"version": episode.version, **facts_now(episode)}
    form = EpisodeForm(request.POST or None, today=by.today, patient=episode.patient, initial=initial)
    page = Page(
        "Correct the facts", "Save the correction", to_episode(episode), preview=episode, now=lambda: _now(code),
        context=named(episode.patient, by, episode),
    )  # fmt: skip
    return answer(
        request, by, form, page,
        lambda by: episodes.correct(episode, by=by, **form.said_of()),
        to=lambda _: to_episode(episode), saved="The facts are corrected.",
    )  # fmt: skip


def _gates(page: EpisodePage) -> list[tuple[Lock, bool, str, list[str]]]:
    """Each gate, whether it is open, how it stands and why: what the gates on the day line lead to."""
    if page.line is None:
        return []
    say = speech()
    told = ((gate, dayline.tell_gate(page.line, gate, say)) for gate in page.line.gates)
    whys = {lock: [why for why in found if say.label(lock) not in why] for lock, found in page.gates.items()}
    return [(gate.lock, gate.is_open, said, whys.get(gate.lock, [])) for gate, said in told]


def _now(code: str) -> tuple[int, dict[str, Any]]:
    episode = episode_at(code)
    return episode.version, facts_now(episode)


def _first_values(request: HttpRequest, patient: Patient) -> dict[str, Any]:
    """What a second digit of the same day shares with the first."""
    shared = ("surgery_on", "side", "technique", "surgeon", "site", "therapist", "referral", "for_therapy", "risks",
              "raised_risk", "dominant", "work")  # fmt: skip
    if like := _own(request, patient, "like"):
        return {name: facts_now(like)[name] for name in shared}
    referral = patient.referrals.filter(ended_on__isnull=True).first()
    sites = list(Site.objects.all()[:2])
    return {
        "referral": referral.code if referral else "",
        "for_therapy": referral is not None,
        "site": sites[0].code if len(sites) == 1 else "",
    }


def _own(request: HttpRequest, patient: Patient, name: str) -> Episode | None:
    """The episode of this patient that the address names."""
    own = patient.episodes.select_related("patient", "site", "therapist", "referral")
    return own.filter(code=request.GET.get(name, "")[:12].replace("\0", "")).first()
