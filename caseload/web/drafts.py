"""Nothing typed is lost: a view under `@keeps_typed` keeps every sending of its form until one is saved.

    @keeps_typed
    def record(request, code):
        form = VisitForm(request.POST or None, ...)
        context = {"draft": typed_before(request, form), ...}

A redirect is taken to mean that it was saved; whatever else comes back, a fault included, the draft stands. The page
includes `forms/draft.html` above its form, and in the form `{% ours %}`: a seal of who opened it, under which what is
sent after the time-out is kept too. A form under `visit.js` is sent as it is typed, with `live`: the answer to that is
a fragment with status 200.
"""

from collections.abc import Callable
from functools import wraps
from typing import Any, Final

from django.contrib import messages
from django.contrib.auth.views import redirect_to_login
from django.core import signing
from django.forms import BaseForm, Field
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect
from django.utils import timezone

from caseload.actions import drafts
from caseload.actions.act import carried_out
from caseload.errors import Refusal
from caseload.models import Draft, Staff
from caseload.parsing import read_date
from caseload.web import typed_again
from caseload.web.clock import by_of, now, staff_of
from caseload.web.forms.fields import DayField

SEAL: Final = "ours"
LEAVING: Final = "leaving"
"""The field by which a page that is about to be covered asks for no more than keeping what is typed."""
SALT: Final = "caseload.web.drafts"
HOLDS: Final = 24 * 3600
"""Seconds for which the seal of a page that was opened holds."""
View = Callable[..., HttpResponse]


def keeps_typed(view: View) -> View:
    @wraps(view)
    def keeping(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        if request.method != "POST":
            return view(request, *args, **kwargs)
        at = _keep(request)
        answer = view(request, *args, **kwargs)
        if 300 <= answer.status_code < 400:
            drafts.forget(staff_of(request), place_of(request), _sent(request))
        elif at:
            answer["X-Kept"] = at
        return answer

    return keeping


def draft_at(request: HttpRequest, place: str = "") -> Draft | None:
    """What this person typed on this page, or at another place, and did not save."""
    return drafts.kept(staff_of(request), place or place_of(request))


def typed_before(request: HttpRequest, form: BaseForm) -> Draft | None:
    """The draft of this person for this page, filled into the form; None while something is being sent.

    Where there is none, what was typed before more was added to the address is carried over into its fields.
    """
    if form.is_bound:
        return None
    place = place_of(request)
    found = [each for each in drafts.kept_around(staff_of(request), place) if place.startswith(each.place)]
    if not found:
        return None
    draft = found[-1]
    body = typed(draft)
    for name, field in form.fields.items():
        if name not in drafts.UNKEPT and (draft.place == place or name in body):
            form.initial[name] = _meant(field, field.widget.value_from_datadict(body, {}, form.add_prefix(name)), draft)
    return draft


def _meant(field: Field, value: Any, draft: Draft) -> Any:
    """What was typed; a day such as "yesterday" as the one that was meant when it was typed."""
    if not isinstance(field, DayField) or field.birth or not value:
        return value
    try:
        then, here = (read_date(value, today=timezone.localdate(at)).on for at in (draft.saved_at, now()))
    except Refusal:
        return value
    return value if then == here else then


def typed_elsewhere(request: HttpRequest) -> list[Draft]:
    """What this person typed for the same page with more added to its address."""
    place = place_of(request)
    return [each for each in drafts.kept_around(staff_of(request), place) if not place.startswith(each.place)]


def typed(draft: Draft) -> QueryDict:
    """What was typed, as a form sends it."""
    body = QueryDict(mutable=True)
    for name, values in draft.body.items():
        body.setlist(name, values)
    return body


def is_live(request: HttpRequest) -> bool:
    """Whether the form was sent by the page itself, as it is typed."""
    return "live" in request.POST


def place_of(request: HttpRequest) -> str:
    """The address that a draft is kept under; a query that is too long is none of ours."""
    place = request.get_full_path()
    return place if len(place) <= drafts.LONGEST_PLACE else request.path


def seal(request: HttpRequest) -> str:
    """Who opened this page, signed."""
    return signing.dumps([staff_of(request).pk, place_of(request)], salt=SALT)


class KeepsForSignIn:
    """Middleware, before signing in is asked for: a sealed form that comes too late is kept, then signing in leads
    back to its page. So is one that a page sends because it is about to be covered (`leaving`); that is never more
    than kept."""

    def __init__(self, answer: View) -> None:
        self.answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.answer(request)

    def process_view(self, request: HttpRequest, *_: Any) -> HttpResponse | None:
        if request.method != "POST":
            return None
        if LEAVING in request.POST:
            if not _keep_sealed(request) and request.user.is_authenticated:
                typed_again.keep(request)
            return HttpResponse(status=204)
        if request.user.is_authenticated or not _keep_sealed(request):
            return None
        if is_live(request):
            return HttpResponse(status=401)
        messages.warning(request, "You were signed out. What you typed is kept: sign in, and it stands there again.")
        return redirect_to_login(place_of(request))


def sent_too_late(request: HttpRequest) -> HttpResponse | None:
    """For a form whose token is of an earlier signing-in of the same person: keep it and show its page again.

    Nothing is saved for it, and only the seal, which no other site can write, lets it be kept.
    """
    if not request.user.is_authenticated or not _keep_sealed(request, staff_of(request)):
        return None
    if is_live(request):
        return HttpResponse(status=401)
    messages.warning(request, "You signed in again since this page was opened. Look through it, then save it.")
    return redirect(place_of(request))


def kept_for_later(request: HttpRequest) -> bool:
    """Keep what somebody sent from a page of theirs that was locked meanwhile."""
    return _keep_sealed(request, staff_of(request))


def _keep(request: HttpRequest) -> str:
    """Keep what is sent, unless this form is saved already; the time, or "" where it is not kept."""
    by = by_of(request)
    if carried_out(by) is not None or not drafts.keep(by.person, place_of(request), _sent(request), by.at):
        return ""
    return f"{timezone.localtime(by.at):%H:%M}"


def _keep_sealed(request: HttpRequest, staff: Staff | None = None) -> bool:
    """Keep what was sent under a seal of this page; `staff` is who must have opened it."""
    try:
        opener, place = signing.loads(request.POST.get(SEAL, ""), salt=SALT, max_age=HOLDS)
    except signing.BadSignature:
        return False
    known = Staff.objects.filter(pk=opener, is_active=True).first()
    if known is None or place != place_of(request) or (staff and staff != known):
        return False
    return drafts.keep(known, place, _sent(request), now())


def _sent(request: HttpRequest) -> dict[str, list[str]]:
    return dict(request.POST.lists())
