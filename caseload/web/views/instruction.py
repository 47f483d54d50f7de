"""Instructions of the surgeon: given, confirmed, withdrawn."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_http_methods, require_POST

from caseload.access import Act
from caseload.actions import instructions
from caseload.models import Episode, Instruction
from caseload.web.forms.care import InstructionForm
from caseload.web.views.answering import FORM_METHODS, Page, allow, answer, press
from caseload.web.views.found import episode_at, named, to_episode


@require_http_methods(FORM_METHODS)
def give(request: HttpRequest, code: str) -> HttpResponse:
    by, episode = allow(request, Act.INSTRUCTION_GIVE), episode_at(code)
    initial = {"by_whom": episode.surgeon, "item": request.GET.get("item", "")}
    form = InstructionForm(request.POST or None, today=by.today, initial=initial)
    context = named(episode.patient, by, episode)
    page = Page("Enter an instruction", "Save the instruction", to_episode(episode), preview=episode, context=context)
    return answer(
        request, by, form, page, lambda by: instructions.give(episode, by=by, **form.said()),
        to=lambda _: to_episode(episode, "instructions"), saved="The instruction holds from now on.",
    )  # fmt: skip


@require_POST
def confirm(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    by, episode = allow(request, Act.INSTRUCTION_CONFIRM), episode_at(code)
    instruction = _standing_at(episode, pk)
    return press(
        request, by, lambda by: instructions.confirm(instruction, by=by), to=to_episode(episode, "instructions"),
        saved="The instruction is confirmed for this surgery date.",
    )  # fmt: skip


@require_POST
def withdraw(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    by, episode = allow(request, Act.INSTRUCTION_WITHDRAW), episode_at(code)
    instruction = _standing_at(episode, pk)
    return press(
        request, by, lambda by: instructions.withdraw(instruction, by=by), to=to_episode(episode, "instructions"),
        saved="The instruction is withdrawn; the rules hold again.",
    )  # fmt: skip


def _standing_at(episode: Episode, pk: int) -> Instruction:
    instruction = get_object_or_404(Instruction, episode=episode, pk=pk)
    instruction.episode = episode
    return instruction
