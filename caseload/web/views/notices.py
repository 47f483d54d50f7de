"""Notices: whom to ring, what waits for a person, how e-mail is doing; one notice, rung about or withdrawn."""

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.middleware.csrf import get_token
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from caseload.access import Act, may
from caseload.actions import notices
from caseload.actions.looks import listed, looked
from caseload.booking.notices import Channel, NoticeKind
from caseload.models import Notice, NoticeState, Reached
from caseload.outreach.letter_batch import paragraphs_of, written
from caseload.reads.call_list import calls, due_calls
from caseload.reads.letters_waiting import letters, proposals
from caseload.reads.notices_of import mail
from caseload.reads.patient import namesakes
from caseload.reads.untold import untold_count
from caseload.web.clock import by_of
from caseload.web.forms.notices import NotToSendForm, RungForm
from caseload.web.going_back import back_of
from caseload.web.notice_rows import SAID, Sent, call_row, proposal_row
from caseload.web.paging import Paging, read_paging
from caseload.web.views.answering import FORM_METHODS, Page, answer, press, route_of
from caseload.web.views.found import named, to_patient, who_it_is
from caseload.wording import label
from caseload.wording.appointments import say_time

PER_PAGE = "50"


@require_safe
def show(request: HttpRequest) -> HttpResponse:
    """Everything that goes out and waits for a person, in a constant number of queries."""
    by = by_of(request)
    paging = read_paging({"per": PER_PAGE, "page": request.GET.get("page", "")}, due_calls(by.at, by).count())
    listed_calls = calls(by.at, paging.start, paging.stop, by)
    proposed, proposed_count = proposals(by.today, by)
    sent = Sent(get_token(request), request.get_full_path())
    context = {
        "today": by.today,
        "paging": paging,
        "calls": mark_safe("".join(call_row(each, sent) for each in listed_calls)),
        "letters": letters(by.at),
        "proposed": mark_safe("".join(map(proposal_row, proposed))),
        "proposed_shown": len(proposed),
        "proposed_count": proposed_count,
        "mail": mail(by.at, by),
        "mail_on": bool(getattr(settings, "MAIL_URL", "")),
        "untold": untold_count(by),
        "may_print": may(by.roles, Act.LETTERS_PRINT),
    } | _beside(paging)
    listed(by=by, route=route_of(request), rows=len(listed_calls) + len(proposed))
    return render(request, "notices/page.html", context)


def _beside(paging: Paging) -> dict[str, int]:
    """The pages before and after, 0 where there is none."""
    return {
        "before": paging.page - 1 if paging.page > 1 else 0,
        "after": paging.page + 1 if paging.page < paging.pages else 0,
    }


@require_safe
def read(request: HttpRequest, code: str) -> HttpResponse:
    """What was written, or would be if it went out now."""
    by, notice = by_of(request), notice_at(code)
    looked(notice.patient, by=by, route=route_of(request))
    waits = notice.state == NoticeState.WAITING
    text = notice.sent_text
    if waits and not text and notice.channel != Channel.CALL:
        _, text = written(notice)
    context = named(notice.patient, by) | {
        "notice": notice,
        "waits": waits,
        "paragraphs": paragraphs_of(text),
        "about": about(notice),
    }
    return render(request, "notices/notice.html", context)


@require_POST
def rung(request: HttpRequest, code: str) -> HttpResponse:
    """What came of ringing, in one press; where others have the name, the form asks for the birth date first."""
    by, notice = by_of(request), notice_at(code)
    reached, back = request.POST.get("reached", ""), back_of(request, reverse("notices"))
    if reached not in SAID:
        raise Http404
    if namesakes(notice.patient):
        messages.warning(request, "Others on the caseload have this name: confirm the birth date here.")
        return redirect("notice-call", code)
    return press(
        request, by, lambda by: notices.log_call(notice, by=by, reached=reached), to=back,
        saved=f"{SAID[Reached(reached)]}: {notice.patient}.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def call(request: HttpRequest, code: str) -> HttpResponse:
    by, notice = by_of(request), notice_at(code)
    context, back = named(notice.patient, by), reverse("notices")
    form = who_it_is(RungForm(request.POST or None, today=by.today), context)
    number = notice.patient.phone or "no telephone number on record"
    page = Page("What came of the call", "Save", back, f"{about(notice)} {number}.", context=context)
    return answer(
        request, by, form, page, lambda by: notices.log_call(notice, by=by, **form.said()),
        to=lambda _: back, saved=f"Recorded: {notice.patient}.",
    )  # fmt: skip


@require_http_methods(FORM_METHODS)
def withdraw(request: HttpRequest, code: str) -> HttpResponse:
    by, notice = by_of(request), notice_at(code)
    form, back = NotToSendForm(request.POST or None, today=by.today), to_patient(notice.patient, "written")
    page = Page("Withdraw a notice", "Withdraw it", back, about(notice), context=named(notice.patient, by))
    return answer(
        request, by, form, page, lambda by: notices.withdraw(notice, by=by, **form.said()),
        to=lambda _: back, saved="The notice is withdrawn. It does not go out.",
    )  # fmt: skip


def notice_at(code: str) -> Notice:
    related = ("patient", "appointment__site", "appointment__patient", "episode__site", "episode__referral", "batch")
    return get_object_or_404(Notice.objects.select_related(*related), code=code)


def about(notice: Notice) -> str:
    """What it is, how it goes out, and of which appointment."""
    said = f"{label(NoticeKind(notice.kind))}, {label(Channel(notice.channel))}".capitalize()
    return f"{said}: {say_time(notice.appointment)}." if notice.appointment else f"{said}."
