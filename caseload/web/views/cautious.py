"""A form that first shows what saving it would bring about; sent again as it stands, it is carried out."""

from collections.abc import Callable
from hashlib import sha256
from typing import Any

from django.http import HttpRequest, HttpResponse, QueryDict

from caseload.actions.act import By
from caseload.errors import Refusal
from caseload.web.forms.record import RecordForm
from caseload.web.views.answering import Page, answer, refused, shown

Doing = Callable[[], object]
NOT_TYPED = frozenset({"csrfmiddlewaretoken", "key", "sure", "live", "ours"})


def cautious(
    request: HttpRequest,
    by: By,
    form: RecordForm,
    page: Page,
    save: Callable[[By], Any],
    look: Callable[[Doing], Any],
    *,
    to: Callable[[str], str],
    saved: str,
) -> HttpResponse:
    """Like `answer`; `look` is given the act to rehearse and gives back what the person should know, or nothing."""
    seal = sealed(request.POST)
    if request.method == "POST" and form.is_valid() and request.POST.get("sure") != seal:
        try:
            # The key of the form is not used up by a rehearsal.
            caution = look(lambda: save(by.unkeyed))
        except Refusal as refusal:
            return refused(request, form, page, refusal)
        if caution:
            return shown(request, form, page, caution=caution, sure=seal)
    return answer(request, by, form, page, save, to=to, saved=saved)


def sealed(typed: QueryDict) -> str:
    """What was typed, as a short digest: whoever changes anything sees the consequences anew."""
    said = sorted((name, values) for name, values in typed.lists() if name not in NOT_TYPED)
    return sha256(repr(said).encode()).hexdigest()[:16]
