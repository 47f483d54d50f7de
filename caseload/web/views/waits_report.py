"""The report of the waits, to be printed: of what is asked, of a month with all its clocks, and of a month as filed."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Final

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.utils.safestring import SafeString
from django.views.decorators.http import require_safe

from caseload.actions.act import By
from caseload.reads.filings import rules_behind
from caseload.reads.rules import titles_of
from caseload.reads.waits import figures_of
from caseload.reads.waits_wanted import targets
from caseload.waits.clocks import Targets
from caseload.waits.figures import Figures
from caseload.waits.filed import Filed
from caseload.waits.terms import Clock
from caseload.web import waits_apart, waits_page
from caseload.web.clock import by_of
from caseload.web.forms.waits import waits_form
from caseload.web.views.filings import filing_at
from caseload.wording import label
from caseload.wording import waits as say
from caseload.wording.dates import say_period
from caseload.wording.waits_clocks import say_clock, say_counting, say_methods

ALL: Final = "all"
"""In the place of a clock: all of them in turn, as a month is filed."""
OVERVIEW: Final = (
    "Clock", "Waits", "Stopped", "Still waiting", "Half by day", "92 in 100 by day", "Within target",
    "Of completed waits alone",
)  # fmt: skip


@require_safe
def show(request: HttpRequest) -> HttpResponse:
    """What the address asks for. Nobody is named."""
    by, query = by_of(request), request.GET.dict()
    every = query.get("clock") == ALL
    form = waits_form(query | {"clock": ""} if every else query, staff=by.person, today=by.today)
    asked = form.asked()
    each = [replace(asked, clock=clock) for clock in (Clock if every else [asked.clock])]
    only = form.sentence.removeprefix(f"{label(asked.clock)}, ")
    context = {
        "form": form,
        "title": f"The waits, {say_period(asked.period)}",
        "asked": f"All clocks, {only}" if every else form.sentence,
        "rules": titles_of(rules_behind(each, by.today)),
        "back": form.href("waits"),
    }
    links = waits_page.Plain(waits_page.Links(form).named)
    return _printed(request, by, [figures_of(one, by.today) for one in each], links, targets(), context)


@require_safe
def as_filed(request: HttpRequest, code: str) -> HttpResponse:
    """A month as it was filed, from what was filed alone."""
    by, filing = by_of(request), filing_at(code)
    filed = Filed.from_json(filing.body)
    figures = [filed.figures[clock] for clock in Clock if clock in filed.figures]
    title = f"The waits, {say_period(filed.month)}, as filed"
    asked = f"All clocks, {say_period(filed.month)}; all patients."
    context = {"filing": filing, "title": title, "asked": asked, "rules": titles_of(filed.rules)}
    return _printed(request, by, figures, waits_page.Plain(filed.names), filed.targets, context)


def _printed(
    request: HttpRequest,
    by: By,
    figures: list[Figures],
    links: waits_page.Links,
    aims: Targets,
    context: Mapping[str, Any],
) -> HttpResponse:
    methods = {name: method for each in figures for name, method in each.methods.items()}
    told = {
        "by": by,
        "overview": list(map(_row, figures)) if len(figures) > 1 else [],
        "overview_heads": OVERVIEW,
        "clocks": [_clock(each, links, aims) for each in figures],
        "counting": say_counting(),
        "methods": say_methods(methods),
    }
    return render(request, "waits/report.html", {**context, **told})


def _row(figures: Figures) -> tuple[str | int, ...]:
    """One clock on the first sheet, under `OVERVIEW`."""
    now = figures.now
    days = [say.NOT_SAID if now.refused else say.say_day(day) for day in (now.median, now.centile_92)]
    shares = [say.say_share(each.share if each else None) for each in (now.within, now.within_completed)]
    return label(figures.clock), now.waits, now.seen, now.waiting, *days, *shares


def _clock(figures: Figures, links: waits_page.Links, aims: Targets) -> SafeString:
    """The part of the report that is of one clock."""
    own = {
        "of_clock": label(figures.clock),
        "at": f"{figures.clock}-",
        "on_paper": True,
        "clock": say_clock(figures.clock, aims),
    }
    values = waits_page.values(figures, links) | waits_apart.values(figures, links)
    return render_to_string("waits/report_clock.html", values | own)
