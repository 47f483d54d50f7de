"""The booking list: who is to be rung next, with the best places beside; and who does not know of a change yet."""

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.middleware.csrf import get_token
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.safestring import mark_safe
from django.views.decorators.http import require_http_methods, require_POST

from caseload.actions import appointments, contacts
from caseload.actions.act import By, Repeated
from caseload.actions.looks import listed_beside
from caseload.actions.working import open_row
from caseload.errors import Refusal
from caseload.models import Appointment, FollowUp, Patient, Reached, Told
from caseload.models.contacts import How
from caseload.reads.reach import seen_by
from caseload.reads.rehousing import waiting_count
from caseload.reads.to_book import Row
from caseload.reads.to_book_order import Ranked
from caseload.reads.undoable import undoable
from caseload.reads.untold import untold
from caseload.reads.visit_to_book import VisitToBook, visit_to_book
from caseload.web.clock import by_of, staff_of
from caseload.web.desk import Desk, desk_of
from caseload.web.exports import is_export
from caseload.web.forms.to_book import VisitToBookForm
from caseload.web.list_files import list_file
from caseload.web.paging import with_changes
from caseload.web.to_book_panel import MOST, form_for, panel_of
from caseload.web.untold_rows import untold_row
from caseload.web.views.answering import FORM_METHODS, press
from caseload.web.views.found import theirs
from caseload.wording.appointments import say_time

NEXT_OFFERS = 3
"""Whoever lost a race gets so many offers more."""
CALLS = {Reached.NO_ANSWER: "No answer is logged", Reached.MESSAGE: "The message is logged"}


@require_http_methods(FORM_METHODS)
def show(request: HttpRequest) -> HttpResponse:
    """The list with one row open: the one asked for, else the first that nobody else has open."""
    if is_export(request):
        return list_file(request, "to-book")
    desk = desk_of(request, by_of(request))
    row = desk.find(request.GET.get("row", ""))
    if row is None and request.GET.get("row"):
        messages.info(request, "That follow-up is booked meanwhile, or not due any more. This is the next one.")
    if row is None:
        row = desk.open_next(desk.first_of_page())
    else:
        open_row(row.patient_id, by=desk.by)
    return _page(request, desk, row)


def _page(
    request: HttpRequest, desk: Desk, chosen: Ranked | None, visit: VisitToBook | None = None,
    form: VisitToBookForm | None = None, *, most: int = MOST, status: int = 200,
) -> HttpResponse:  # fmt: skip
    table = desk.table(chosen)
    row = desk.row(chosen) if chosen else None
    panel = panel_of(desk, row, visit, form, most) if row else None
    if panel and request.method == "GET":
        shown = table.paging.stop - table.paging.start
        listed_beside(panel.patient.pk, by=desk.by, route="to-book", rows=shown)
    context = {
        "table": table, "panel": panel, "filters": desk.filters, "today": desk.by.today,
        "focus": "row" in request.GET or form is not None, **_beside(request, desk, row),
    }  # fmt: skip
    return render(request, "to_book/list.html", context, status=status)


def _beside(request: HttpRequest, desk: Desk, row: Row | None) -> dict[str, object]:
    """What stands under the list, and above it: who is to be told, who is to be rehoused, what can be taken back."""
    here = with_changes(desk.asked, row=row.name if row else None)
    found = untold(desk.by.today, desk.filters.asked().site, desk.by)
    sent_to, token = reverse("to-book-told") + here, get_token(request)
    return {
        "untold": found,
        "untold_rows": mark_safe("".join(untold_row(each, sent_to, token) for each in found)),
        "waiting": waiting_count(desk.by),
        "steps": undoable(staff_of(request), desk.by.at),
        "back": request.get_full_path(),
    }


@require_http_methods(FORM_METHODS)
def visit(request: HttpRequest) -> HttpResponse:
    """Book or move the visit of the open row and go on to the next one."""
    if request.method != "POST":
        return redirect("to-book")
    by = by_of(request)
    wanted, desk = _visit(request, by), desk_of(request, by)
    if "again" in request.POST:
        return _again(request, desk, wanted, form_for(wanted, desk, initial=_typed(request)))
    form = form_for(wanted, desk, request.POST)
    if not form.is_valid():
        return _again(request, desk, wanted, form, status=422)
    try:
        made = form.save(by)
    except Repeated:
        return _go_on(request, by)
    except Refusal as refusal:
        form.refuse(refusal)
        return _again(request, desk_of(request, by), _visit(request, by), form, most=NEXT_OFFERS, status=409)
    messages.success(request, f"{'Moved' if wanted.appointment else 'Booked'}: {made.patient}, {say_time(made)}.")
    return _go_on(request, by)


def _visit(request: HttpRequest, by: By) -> VisitToBook:
    found = visit_to_book(request.POST.get("row", ""), request.POST.get("moving", ""))
    if found is None:
        raise Http404
    theirs(found.about.patient_id, by)
    return found


def _typed(request: HttpRequest) -> dict[str, object]:
    """What was typed so far, before the form is judged."""
    post = request.POST
    return {**post.dict(), "follow_ups": post.getlist("follow_ups")}


def _again(
    request: HttpRequest, desk: Desk, wanted: VisitToBook, form: VisitToBookForm, *, most: int = MOST, status: int = 200
) -> HttpResponse:
    """The page once more with everything that was typed; where the row has gone meanwhile, on to the next."""
    row = desk.find(request.POST.get("row", ""))
    if row is None:
        said = form.non_field_errors() or ["That follow-up is booked meanwhile, or not due any more."]
        messages.error(request, str(said[0]))
        return _go_on(request, desk.by)
    return _page(request, desk, row, wanted, form, most=most, status=status)


def _go_on(request: HttpRequest, by: By) -> HttpResponse:
    """To the row that stood next when the page was made, or to the next one after it that nobody has open."""
    desk = desk_of(request, by)
    here, then = desk.find(request.POST.get("row", "")), desk.find(request.POST.get("then", ""))
    start = desk.place(then) if then else desk.place(here) + 1 if here else 0
    row = desk.open_next(start, but=here.patient_id if here else 0)
    return redirect(_list(desk, row=desk.row(row).name if row else None, page=None))


def _list(desk: Desk, **changes: object) -> str:
    return reverse("to-book") + with_changes(desk.asked, **changes)


@require_POST
def call(request: HttpRequest) -> HttpResponse:
    """Log a call that reached nobody, or a message, and go on to the next row."""
    by, reached = by_of(request), request.POST.get("reached", "")
    code, _, key = request.POST.get("row", "").partition("/")
    row = get_object_or_404(FollowUp.objects.select_related("episode", "patient"), episode__code=code, key=key)
    if reached not in CALLS:
        raise Http404
    try:
        contacts.log(row.patient, by=by, how=How.PHONE, reached=reached, episode=row.episode)
    except Repeated:
        return _go_on(request, by)
    messages.success(request, f"{CALLS[Reached(reached)]}: {row.patient}.")
    return _go_on(request, by)


@require_POST
def tell(request: HttpRequest) -> HttpResponse:
    """Record of an appointment that the patient was told, that a message was left, or that nobody answered."""
    by, said = by_of(request), request.POST.get("said", "")
    found = get_object_or_404(Appointment.objects.select_related("patient"), code=request.POST.get("appointment", ""))
    back = _list(desk_of(request, by), row=request.GET.get("row")) + "#untold"
    if said == Reached.NO_ANSWER:
        log = contacts.log
        return press(request, by, lambda by: log(found.patient, by=by, how=How.PHONE, reached=said), to=back,
                     saved=f"{CALLS[Reached.NO_ANSWER]}: {found.patient}.")  # fmt: skip
    if said not in (Told.TOLD, Told.MESSAGE):
        raise Http404
    version = int(request.POST["version"]) if request.POST.get("version", "").isdigit() else None
    return press(
        request, by, lambda by: appointments.tell(found, by=by, told=said, version=version), to=back,
        saved=f"{Told(said).label.capitalize()}: {found.patient}.",
    )  # fmt: skip


@require_POST
def keep_open(request: HttpRequest) -> HttpResponse:
    """The page says that its row is still being worked on."""
    by = by_of(request)
    code, _, key = request.POST.get("row", "").partition("/")
    rows = seen_by(by, Patient.objects.all(), "pk")
    patient = get_object_or_404(rows, episodes__code=code, episodes__follow_ups__key=key)
    open_row(patient.pk, by=by)
    return HttpResponse(status=204)
