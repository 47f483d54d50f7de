"""Need and room: what falls due in the weeks ahead, where it will not fit, and what one more session would do."""

from dataclasses import dataclass
from datetime import date

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.safestring import SafeString
from django.views.decorators.http import require_safe

from caseload.booking.expected import METHOD
from caseload.booking.outlook import Outlook, days_ahead
from caseload.booking.room import Gain
from caseload.reads.names import Named, names
from caseload.reads.need import BEHIND, outlooks
from caseload.timetable.terms import FollowUpKind
from caseload.web.clock import by_of
from caseload.web.forms.need import OneMoreForm, said
from caseload.web.wait_charts import need_chart
from caseload.wording.need import say_eased, say_fit, say_gain, say_short, say_surgery


@dataclass(frozen=True)
class Place:
    """A site as the page shows it."""

    site: Named
    outlook: Outlook
    says: str
    surgery: str
    chart: SafeString
    short: list[tuple[FollowUpKind, int, str]]
    usual: str
    best: list[tuple[Gain, str]]
    free: list[tuple[FollowUpKind, list[tuple[date, int]]]]


@require_safe
def show(request: HttpRequest) -> HttpResponse:
    by = by_of(request)
    found = outlooks(by.today)
    first, last = days_ahead(by.today)
    form = OneMoreForm(request.GET, today=by.today, first=first, last=last)
    places = [_place(site, found[site.id]) for site in names().sites if site.id in found]
    gain = _tried_out(form, found) if form.is_bound and form.is_valid() else ""
    context = {
        "first": first, "last": last, "places": places, "form": form, "gain": gain, "method": METHOD,
        "asked": form.asked() if gain else "", "proven": all(each.outlook.proven for each in places),
    }  # fmt: skip
    return render(request, "need/page.html", context)


def _tried_out(form: OneMoreForm, found: dict[int, Outlook]) -> str:
    asked = form.cleaned_data
    outlook = found[asked["site"].pk]
    gain = outlook.with_one_more(asked["on"], asked["slots"], form.takes())
    return f"{say_gain(gain)} {say_eased(outlook.eased(gain))}".rstrip()


def _place(site: Named, outlook: Outlook) -> Place:
    return Place(
        site,
        outlook,
        say_fit(outlook),
        say_surgery(outlook, BEHIND),
        need_chart(outlook),
        say_short(outlook.middle),
        said(outlook.usual),
        [(gain, say_gain(gain)) for gain in outlook.best()],
        _free(outlook),
    )


def _free(outlook: Outlook) -> list[tuple[FollowUpKind, list[tuple[date, int]]]]:
    """For each kind of visit the slots free in each week, with the first day of that week."""
    weeks = [week.days[0].on for week in outlook.weeks]
    kinds = outlook.free_for(kind for kind in FollowUpKind if kind is not FollowUpKind.CLOSE)
    return [(kind, list(zip(weeks, slots, strict=True))) for kind, slots in kinds]
