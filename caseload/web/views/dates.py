"""The question that a date field asks while somebody types: what was this read as?"""

from datetime import date

from django.http import HttpRequest, HttpResponse
from django.views.decorators.http import require_POST

from caseload.errors import Refusal
from caseload.parsing import TypedDate, read_birth_date, read_date
from caseload.web.clock import by_of
from caseload.web.forms.fields import echoed


@require_POST
def read(request: HttpRequest) -> HttpResponse:
    """Answer in one line of plain text: the day in words and its number since surgery, or what is wrong with it."""
    today = by_of(request).today
    text = request.POST.get("text", "")[:40]
    try:
        typed = (
            read_birth_date(text, today=today) if request.POST.get("as") == "birth" else read_date(text, today=today)
        )
    except Refusal as refusal:
        return _line(refusal.message if text.strip() else "")
    return _line(echoed(typed) + _day_number(typed, request.POST.get("since", "")))


def _day_number(typed: TypedDate, since: str) -> str:
    try:
        return f", day {(typed.on - date.fromisoformat(since)).days}"
    except ValueError:
        return ""


def _line(text: str) -> HttpResponse:
    return HttpResponse(text, content_type="text/plain; charset=utf-8")
