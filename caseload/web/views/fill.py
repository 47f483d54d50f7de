"""Filling the diary: a plan is asked for, looked at line by line, and accepted or declined by people."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from uuid import uuid5

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from caseload.access import Act, may
from caseload.actions import filling
from caseload.actions.act import By, Repeated
from caseload.actions.looks import looked_at
from caseload.errors import Refusal
from caseload.models import FillLine, FillPlan, Job
from caseload.reads import fill_plans as read
from caseload.reads.names import names
from caseload.reads.to_book import Asked, unbooked
from caseload.reads.undoable import undoable
from caseload.web.clock import by_of, staff_of
from caseload.web.fill_rows import overtaken_items, pages_of, placed_rows, unplaced_rows
from caseload.web.forms.fill import FillForm, LineFilters
from caseload.web.forms.record import RecordForm
from caseload.web.rows import Teller
from caseload.web.views.answering import FORM_METHODS, allow, route_of, warn_of_nothing
from caseload.wording.filling import say_booked, say_declined, say_placed, say_proof


@require_http_methods(FORM_METHODS)
def show(request: HttpRequest) -> HttpResponse:
    """Ask for a plan; and those that were made."""
    by = by_of(request)
    form = FillForm(request.POST if request.method == "POST" else None, today=by.today)
    if request.method == "POST":
        by = allow(request, Act.DIARY_FILL)
        if form.is_valid() and (job := _asked(form, by)):
            return redirect("job", job)
    context = {
        "form": form, "may": may(by.roles, Act.DIARY_FILL), "unbooked": unbooked(Asked(), by.today, by).count(),
        "plans": read.plans(), "most": read.MOST_PLANS,
        "jobs": Job.objects.filter(kind="fill", ended_at__isnull=True).select_related("by"),
    }  # fmt: skip
    return render(request, "fill/list.html", context, status=422 if form.errors else 200)


def _asked(form: FillForm, by: By) -> str:
    """The code of the job; "" where it was refused."""
    try:
        return filling.ask(by=by, **form.said()).code
    except Repeated as repeated:
        return repeated.outcome
    except Refusal as refusal:
        form.refuse(refusal)
        return ""


@require_http_methods(FORM_METHODS)
def show_plan(request: HttpRequest, code: str) -> HttpResponse:
    by = by_of(request)
    plan = get_object_or_404(FillPlan.objects.select_related("by"), code=code)
    if request.method == "POST":
        by = allow(request, Act.DIARY_FILL)
        if RecordForm(request.POST, today=by.today).is_valid():
            return _decided(request, plan, by)
    return _page(request, plan, by)


def _decided(request: HttpRequest, plan: FillPlan, by: By) -> HttpResponse:
    """Each line is an act of its own: one that the diary has overtaken is said, and stays with new offers."""
    declining = "decline" in request.POST
    refused: dict[int, str] = {}
    done = 0
    lines = _chosen(request, plan)
    warn_of_nothing(request, lines)
    for line in lines:
        own = replace(by, key=by.key and uuid5(by.key, f"{line.number}/{declining}"))
        try:
            filling.decline(line, by=own) if declining else filling.accept(line, by=own)
            done += 1
        except Repeated:
            pass
        except Refusal as refusal:
            refused[line.pk] = refusal.message
    if done:
        messages.success(request, say_declined(done) if declining else say_booked(done))
    return _page(request, plan, by, refused) if refused else redirect(request.get_full_path())


def _chosen(request: HttpRequest, plan: FillPlan) -> list[FillLine]:
    """The lines that were ticked, or every one that the page showed where the button for all was pressed."""
    sent = request.POST.getlist("line" if "all" in request.POST else "chosen")
    numbers = [int(text) for text in sent if text.isascii() and text.isdecimal() and len(text) <= 6]
    return list(FillLine.objects.filter(plan=plan, number__in=numbers, session__isnull=False).order_by("number"))


def _page(request: HttpRequest, plan: FillPlan, by: By, refused: Mapping[int, str] | None = None) -> HttpResponse:
    refused, known = refused or {}, names()
    tell = Teller(by.today, known)
    filters = LineFilters(request.GET.dict(), names=known, staff=staff_of(request))
    rows = read.chosen(plan, **filters.asked(), reader=by)
    pages = pages_of(request.GET.dict(), rows.count())
    lines = read.lines(rows[pages.paging.start : pages.paging.stop], by.at)
    again = read.lines(FillLine.objects.filter(pk__in=refused), by.at)
    looked_at((line.row.patient_id for line in (*lines, *again)), by=by, route=route_of(request))
    context = {
        "plan": plan, "filters": filters, "pages": pages, "form": RecordForm(today=by.today),
        "overtaken": overtaken_items(again, refused, tell),
        **_said(plan, by), **_tables(lines, tell, may(by.roles, Act.DIARY_FILL)),
        "steps": undoable(by.person, by.at), "back": request.get_full_path(),
    }  # fmt: skip
    return render(request, "fill/plan.html", context, status=409 if refused else 200)


def _said(plan: FillPlan, by: By) -> dict[str, object]:
    """What came of the plan, and how good it is."""
    found = read.counts(plan, by)
    return {
        "summary": say_placed(found.placed, found.moved, found.without),
        "proof": say_proof(found.placed, plan.could_place, plan.cost, plan.bound),
        "without": found.without,
    }


def _tables(lines: Sequence[read.Line], tell: Teller, able: bool) -> dict[str, object]:
    """The rows of both tables; `open` are the lines of this page that can still be accepted, of them `late` are."""
    open_ones = [line for line in lines if line.can_be_taken]
    return {
        "placed": placed_rows((line for line in lines if not line.row.why), tell, able),
        "unplaced": unplaced_rows((line for line in lines if line.row.why), tell, able),
        "open": len(open_ones), "late": sum(line.late for line in open_ones), "may": able,
    }  # fmt: skip
