"""The question that a date field asks while somebody types: what was this read as?"""

from datetime import date

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_POST

from caseload.errors import Refusal
from caseload.parsing import TypedDate, read_birth_date, read_date
from caseload.web.clock import by_of
from caseload.web.forms.fields import echoed, numbered


@require_POST
def read(request: HttpRequest) -> HttpResponse:
    """Answer in one line of plain text: the day in words and its number since surgery (of a
    number: its date), or what is wrong with it."""
    today = by_of(request).today
    text = request.POST.get("text", "")[:40]
    if request.POST.get("as") == "number":
        return _line(numbered(text, _day(request.POST.get("since", ""))))
    try:
        typed = (
            read_birth_date(text, today=today) if request.POST.get("as") == "birth" else read_date(text, today=today)
        )
    except Refusal as refusal:
        return _line(refusal.message if text.strip() else "")
    return _line(echoed(typed) + _day_number(typed, request.POST.get("since", "")))


def _day_number(typed: TypedDate, since: str) -> str:
    surgery_on = _day(since)
    return f", day {(typed.on - surgery_on).days}" if surgery_on else ""


def _day(text: str) -> date | None:
    """A day as a field carries it, from years in which adding days to it leads nowhere strange."""
    try:
        day = date.fromisoformat(text)
    except ValueError:
        return None
    return day if 1900 <= day.year <= 2200 else None


def _line(text: str) -> HttpResponse:
    return HttpResponse(text, content_type="text/plain; charset=utf-8")
