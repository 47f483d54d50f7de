"""Letters: a batch made, read, printed from the browser, posted or put back; the letter to a referrer, read first."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from caseload.access import Act, may
from caseload.actions import letters
from caseload.actions.act import By, Repeated
from caseload.actions.looks import looked_at
from caseload.errors import Refusal
from caseload.models import LetterBatch
from caseload.outreach import letter_batch
from caseload.reads.letters_waiting import is_proposed
from caseload.web.clock import by_of
from caseload.web.forms.notices import ReadLetterForm
from caseload.web.views.answering import FORM_METHODS, Page, answer, press, route_of
from caseload.web.views.found import episode_at, named


@require_POST
def make(request: HttpRequest) -> HttpResponse:
    """Put together what waits and show it."""
    by = by_of(request)
    try:
        made = letter_batch.make(by=by).code
    except Repeated as repeated:
        made = repeated.outcome
    except Refusal as refusal:
        messages.error(request, refusal.message)
        return redirect("notices")
    return redirect("letter-batch", made)


@require_safe
def show(request: HttpRequest, code: str) -> HttpResponse:
    by, batch = by_of(request), batch_at(code)
    sheets = letter_batch.sheets(batch, by.today)
    looked_at({sheet.notice.patient_id for sheet in sheets}, by=by, route=route_of(request))
    context = {"batch": batch, "sheets": sheets, "may_post": may(by.roles, Act.LETTERS_POST),
               "to_post": sum(not (sheet.take_out or sheet.moved) for sheet in sheets)}  # fmt: skip
    return render(request, "letters/batch.html", context)


@require_POST
def posted(request: HttpRequest, code: str) -> HttpResponse:
    by, batch = by_of(request), batch_at(code)
    return press(
        request, by, lambda by: letters.mark_posted(batch, by=by), to=reverse("letter-batch", args=[code]),
        saved="Recorded: the letters are posted. Whoever was to be told has a message left, where the post is in time.",
    )  # fmt: skip


@require_POST
def put_back(request: HttpRequest, code: str) -> HttpResponse:
    """A second sending finds the batch gone, which is what was wanted."""
    by = by_of(request)
    batch = LetterBatch.objects.filter(code=code).first()
    if batch is None:
        return redirect("notices")
    return press(
        request, by, lambda by: letters.put_back(batch, by=by), to=reverse("notices") + "#letters",
        saved="Put back: the letters wait for the next batch.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def to_referrer(request: HttpRequest, code: str) -> HttpResponse:
    """The letter as it would go out; a person who has read it lets it be written."""
    by, episode = by_of(request), episode_at(code)
    draft = letter_batch.to_referrer(episode, by.at)
    form = ReadLetterForm(request.POST or None, today=by.today, letter=draft.text)
    if request.method == "GET" and not is_proposed(episode, by.today):
        raise letters.not_proposed()
    context = named(episode.patient, by, episode) | {"draft": draft}
    page = Page("Letter to the referrer", "Write this letter", reverse("notices") + "#referrers",
                template="notices/referrer.html", context=context)  # fmt: skip

    def write(by: By) -> object:
        return letters.write_to_referrer(episode, by=by, to=draft.to, text=draft.text)

    return answer(
        request, by, form, page, write, to=lambda _: reverse("notices") + "#letters",
        saved=f"The letter about {episode.patient} waits to be printed. The episode stays open.",
    )  # fmt: skip


def batch_at(code: str) -> LetterBatch:
    return get_object_or_404(LetterBatch.objects.select_related("by", "posted_by"), code=code)
