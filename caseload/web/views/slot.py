"""One slot of a session: whom it would suit, and keeping it back."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from caseload.actions import appointments, holds
from caseload.actions.act import By, Repeated
from caseload.booking.slots import clock, slots_for
from caseload.errors import Refusal
from caseload.models import Session
from caseload.reads.fitting import Found, done_before, fitting
from caseload.web.clock import by_of
from caseload.web.forms.diary import SlotForm
from caseload.web.views.answering import FORM_METHODS
from caseload.wording import say_date


@require_http_methods(FORM_METHODS)
def show(request: HttpRequest, code: str, minute: int) -> HttpResponse:
    """Book somebody here, keep it back, or release it; whoever runs out of days first stands first."""
    by = by_of(request)
    session = Session.objects.select_related("site__region", "therapist").filter(code=code).first()
    if session is None or not session.start_minute <= minute < session.end_minute:
        raise Http404
    form, found = SlotForm(request.POST or None, today=by.today), fitting(session, minute, by.today, by)
    if not found.is_slot:
        raise Http404
    day = f"{reverse('diary')}?on={session.on.isoformat()}"
    if request.method == "POST" and form.is_valid():
        try:
            if not done_before(by.key):
                messages.success(request, _carry_out(request, session, minute, form, found, by))
            return redirect(day)
        except Repeated:
            return redirect(day)
        except Refusal as refusal:
            form.refuse(refusal)
            found = fitting(session, minute, by.today, by)
    context = {
        "session": session, "time": clock(minute), "found": found, "form": form, "back": day, "today": by.today,
    }  # fmt: skip
    return render(request, "diary/slot.html", context, status=422 if form.is_bound else 200)


def _carry_out(request: HttpRequest, session: Session, minute: int, form: SlotForm, found: Found, by: By) -> str:
    """Do what the button that was pressed says; give back what was done, in words. Raises Refusal."""
    when = f"{say_date(session.on)}, {clock(minute)}"
    if "release" in request.POST:
        holds.release(session.slots.filter(minute__in=found.held), by=by)
        return f"{when} is offered again."
    if "hold" in request.POST:
        minutes = slots_for(minute, form.cleaned_data["minutes"] or 1)
        holds.hold(session.slots.filter(minute__in=minutes), by=by, why=form.cleaned_data["why"])
        return f"{when} is held back."
    chosen = next((each for each in found.rows if each.name == request.POST.get("book")), None)
    if chosen is None:
        raise Refusal("not-fitting", "This follow-up does not fit here any more. Choose another.")
    if chosen.same_name and request.POST.get("confirmed") != chosen.name:
        raise Refusal("birth-date", f"Others have the name {chosen.patient}. Confirm the birth date first.")
    told = form.cleaned_data["told"]
    appointments.book([chosen.row], by=by, session=session, start=minute, way=chosen.way, told=told)
    return f"{chosen.patient} is booked for {when}."
