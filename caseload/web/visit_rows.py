"""What stands of a visit in a row of the day: how far it is, and the buttons that record how it went."""

from datetime import date
from html import escape
from uuid import uuid4

from django.http import HttpRequest
from django.middleware.csrf import get_token
from django.urls import reverse
from django.utils import timezone

from caseload.access import Act, may
from caseload.reads.sittings import Visit
from caseload.timetable.terms import Outcome, Way
from caseload.web import marks
from caseload.web.clock import staff_of
from caseload.web.links import href
from caseload.wording import label

ARRIVED = "arrived"
OUTCOMES = {Outcome.ATTENDED: "Attended", Outcome.DID_NOT_ATTEND: "Did not attend"}
SHAPES = {Outcome.ATTENDED: "tick", Outcome.DID_NOT_ATTEND: "half"}


def visit_state(visit: Visit) -> str:
    """How it ended, or that the patient waits; that the visit is recorded; and the way, where it is not in person."""
    said = [] if visit.way == Way.IN_PERSON else [escape(label(Way(visit.way)))]
    if visit.outcome:
        outcome = Outcome(visit.outcome)
        said.append(f"{marks.shape(SHAPES.get(outcome, 'dash'))}<b>{escape(label(outcome))}</b>")
    elif visit.arrived_at:
        said.append(f"{marks.shape('disc')}<b>arrived {timezone.localtime(visit.arrived_at):%H:%M}</b>")
    if visit.recorded:
        said.append(f'<a href="{href("visit", visit.recorded)}">recorded</a>')
    return " · ".join(said)


class Presses:
    """The buttons of a page, each row a form of its own; `to_come` days have none."""

    def __init__(self, request: HttpRequest, day: date, today: date) -> None:
        self.to_come, self.is_today = day > today, day == today
        self.may_record = may(staff_of(request).roles, Act.VISIT_RECORD)
        back, token = escape(request.get_full_path()), escape(get_token(request))
        self.hidden = (
            f'<input type="hidden" name="csrfmiddlewaretoken" value="{token}">'
            f'<input type="hidden" name="back" value="{back}">'
        )
        self.before, self.after = reverse("today-outcome", args=["CODE"]).split("CODE")

    def of(self, visit: Visit, name: str, *, same_name: bool, waits: bool) -> str:
        """What is recorded of one visit: the visit itself, or how it ended with one press; none once that is recorded.
        `name` tells them apart for who hears them.

        Where another of the day has the same name nothing is recorded with one press: the form asks who it is.
        `waits`: the visit is of this day, so that the patient may just have come.
        """
        record = "" if self.to_come else self._record(visit, name)
        if visit.outcome or self.to_come:
            return record
        if same_name:
            address = reverse("appointment-end", args=[visit.code])
            outcome = f'<a href="{address}">Record outcome{_unseen(name)}</a>'
            return f'<div class="row small no-print">{record}{outcome}</div>'
        may_come = waits and self.is_today and not visit.arrived_at
        buttons = [_button(ARRIVED, "Arrived", name)] if may_come else []
        buttons += [_button(outcome, said, name) for outcome, said in OUTCOMES.items()]
        return (
            f'<form method="post" action="{self.before}{visit.code}{self.after}" class="row small no-print">{record}'
            f'{self.hidden}<input type="hidden" name="key" value="{uuid4()}">'
            f'<input type="hidden" name="version" value="{visit.version}">{"".join(buttons)}</form>'
        )

    def without(self, episode: str, name: str) -> str:
        """For a patient without an appointment, who may have come or rung all the same."""
        if not self.may_record or not self.is_today:
            return ""
        return _link(href("visit-new", episode), "Record a visit", name)

    def _record(self, visit: Visit, name: str) -> str:
        if not self.may_record or visit.recorded or visit.outcome not in ("", Outcome.ATTENDED):
            return ""
        return _link(href("appointment-visit", visit.code), "Record the visit", name)


def _link(address: str, said: str, name: str) -> str:
    return f'<a href="{address}" class="no-print">{said}{_unseen(name)}</a>'


def _button(value: str, said: str, name: str) -> str:
    return f'<button type="submit" class="link" name="did" value="{value}">{said}{_unseen(name)}</button>'


def _unseen(name: str) -> str:
    return f'<span class="unseen">: {escape(name)}</span>'
