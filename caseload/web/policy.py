"""The table of addresses, asked before any page: who gets in, and whether the patient behind the address is theirs.

Roles first, then whose record it is, in one query and only of those who do not reach all. A page that names patients by
anything but its address asks by itself: its list is kept to those in reach (`reads.reach.within`), or `found.theirs`.
"""

import logging
from collections.abc import Callable
from functools import partial
from typing import Any, Final

from django.db.models import QuerySet
from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed

from caseload.access.addresses import ADDRESSES, Address, Answer, Thing
from caseload.access.roles import not_allowed
from caseload.errors import Refusal
from caseload.models import Appointment, Episode, Notice, Patient, Referral, Staff, Visit
from caseload.reads.prepared_models import PreparedModels
from caseload.reads.reach import Limits, out_of, sees_all
from caseload.web.answered import route_of
from caseload.web.clock import now
from caseload.web.refusals import refusal_page
from caseload.web.views.reason import ask_why

log = logging.getLogger("caseload.web")
BEHIND: Final[dict[Thing, QuerySet[Any]]] = {
    Thing.EPISODE: Episode.objects.order_by(),
    Thing.REFERRAL: Referral.objects.order_by(),
    Thing.VISIT: Visit.objects.order_by(),
    Thing.APPOINTMENT: Appointment.objects.order_by(),
    Thing.NOTICE: Notice.objects.order_by(),
}


class Policy:
    """Middleware, after signing in was asked for."""

    def __init__(self, answer: Callable[[HttpRequest], HttpResponse]) -> None:
        self.answer = answer

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.answer(request)

    def process_view(self, request: HttpRequest, view: object, args: object, named: dict[str, Any]) -> Any:
        row = ADDRESSES.get(route_of(request))
        if row is None:
            log.error("The address %s has no row in the table of addresses.", route_of(request))
            return refusal_page(request, Refusal("not-allowed", "This address is not in use."))
        method, staff = request.method or "", request.user
        if not row.asked(method):
            return HttpResponseNotAllowed(row.methods)
        if row.public:
            return None
        if not isinstance(staff, Staff) or not row.admits(staff.roles, method):
            return refusal_page(request, not_allowed(row.able(method)))
        return _whose(request, row, staff, str(named.get("code", "")))


def _whose(request: HttpRequest, row: Address, staff: Staff, code: str) -> HttpResponse | None:
    """Nothing where the patient is in reach, or is not there, which the page says; else the question for a reason."""
    if row.other is not Answer.REASON or sees_all(staff):
        return None
    found = _STRANGER[row.holds](code, *Limits.of(staff, now()))
    return ask_why(request, found[0]) if found else None


def behind(thing: Thing, code: str) -> QuerySet[Patient]:
    """The patient whom what the code names is about; nobody where it names nothing."""
    if thing is Thing.PATIENT:
        return Patient.objects.filter(code=code)
    return Patient.objects.filter(pk__in=BEHIND[thing].filter(code=code).values("patient"))


def _stranger(thing: Thing, code: str, *limits: Any) -> QuerySet[Patient]:
    """The same patient, where they are somebody else's."""
    return out_of(behind(thing, code), Limits(*limits)).order_by()


_STRANGER: Final = {thing: PreparedModels(partial(_stranger, thing)) for thing in (Thing.PATIENT, *BEHIND)}
