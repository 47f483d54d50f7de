"""Instructions of the surgeon: given, confirmed, withdrawn; each shows what it would move before it is saved."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.views.decorators.http import require_http_methods

from caseload.actions import instructions
from caseload.models import Episode, Instruction
from caseload.reads.ordered import orderable
from caseload.web.clock import by_of
from caseload.web.forms.care import InstructionForm, UninstructForm
from caseload.web.forms.record import RecordForm
from caseload.web.views.answering import FORM_METHODS, Page, answer
from caseload.web.views.foreseen import foreseen
from caseload.web.views.found import episode_at, named, to_episode, who_it_is
from caseload.wording import say_date
from caseload.wording.record import say_instruction


@require_http_methods(FORM_METHODS)
def give(request: HttpRequest, code: str) -> HttpResponse:
    by, episode = by_of(request), episode_at(code)
    initial = {"by_whom": episode.surgeon, "item": request.GET.get("item", "")}
    stands = orderable(episode, today=by.today)
    context = named(episode.patient, by, episode) | {"stands": stands}
    now = {str(row.kind): row.days(episode.surgery_on) for row in stands if episode.surgery_on}
    form = InstructionForm(request.POST or None, today=by.today, since=episode.surgery_on, now=now, initial=initial)
    page = Page(
        "Add an instruction", "Add the instruction", to_episode(episode), preview=episode, cautions=True,
        template="episode/instruct.html", context=context,
    )  # fmt: skip
    return answer(
        request, by, who_it_is(form, context), page, lambda by: instructions.give(episode, by=by, **form.said()),
        to=lambda _: to_episode(episode, "instructions"), saved="The instruction holds from now on.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def confirm(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    by, episode = by_of(request), episode_at(code)
    instruction = _standing_at(episode, pk)
    form = RecordForm(request.POST or None, today=by.today)
    surgery = say_date(episode.surgery_on) if episode.surgery_on else "a day not known"
    note = f"{_about(instruction)} It is now counted from the surgery on {surgery}. Ask who ordered it if in doubt."
    context = named(episode.patient, by, episode)
    if request.method == "GET":
        context["moves"] = foreseen(code, lambda row: instructions.confirm(_standing_at(row, pk), by=by), by)
    page = Page(
        "Does this instruction still hold?", "It still holds", to_episode(episode), note, preview=episode,
        context=context,
    )  # fmt: skip
    return answer(
        request, by, form, page, lambda by: instructions.confirm(instruction, by=by),
        to=lambda _: to_episode(episode, "instructions"), saved="The instruction is confirmed for this surgery date.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def withdraw(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    by, episode = by_of(request), episode_at(code)
    instruction = _standing_at(episode, pk)
    form = UninstructForm(request.POST or None, today=by.today)
    context = named(episode.patient, by, episode)
    if request.method == "GET":
        context["moves"] = foreseen(code, lambda row: instructions.withdraw(_standing_at(row, pk), by=by, why="-"), by)
    page = Page(
        "Withdraw an instruction", "Withdraw it", to_episode(episode),
        f"{_about(instruction)} Without it the rules hold again for this item.", preview=episode, cautions=True,
        context=context,
    )  # fmt: skip
    return answer(
        request, by, form, page, lambda by: instructions.withdraw(instruction, by=by, **form.said()),
        to=lambda _: to_episode(episode, "instructions"), saved="The instruction is withdrawn; the rules hold again.",
    )  # fmt: skip


def _about(instruction: Instruction) -> str:
    return f"{say_instruction(instruction)}. Ordered by {instruction.by_whom}: {instruction.why}."


def _standing_at(episode: Episode, pk: int) -> Instruction:
    instruction = get_object_or_404(Instruction, episode=episode, pk=pk)
    instruction.episode = episode
    return instruction
