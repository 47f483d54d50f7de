"""Whoever is shown a patient is recorded, in one place: what a view has not recorded by itself, this does.

A page whose address names the record of one patient is a look at that patient. Any other page that names patients or
leads to their records is a look at a list of so many. A form that comes back, or its preview, is no further look where
the same person has opened the same page within the working day. Recorded before anything is shown: where that fails,
nothing is.
"""

import re
from collections.abc import Callable
from datetime import timedelta
from typing import Final

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from caseload.access.addresses import ADDRESSES, OF_A_PATIENT
from caseload.actions.act import By
from caseload.actions.looks import listed, looked, told
from caseload.models import Look, Patient, Staff
from caseload.web.answered import route_of
from caseload.web.clock import now
from caseload.web.origin import origin_of
from caseload.web.policy import behind

OPEN_FOR: Final = timedelta(hours=12)
SHOWN: Final = frozenset({200, 409, 422})
RECORDS: Final = re.compile(rb"/(patients|episodes|visits|appointments|notices)/([0-9a-z]{12})/")

Answer = Callable[[HttpRequest], HttpResponse]


def recorded(answer: Answer) -> Answer:
    """Middleware, after signing in was asked for."""

    def answer_and_record(request: HttpRequest) -> HttpResponse:
        with told() as known:
            response = answer(request)
            if not known and _shows(response) and isinstance(request.user, Staff):
                _record(request, response)
        return response

    return answer_and_record


def _shows(response: HttpResponse) -> bool:
    html = response.headers.get("Content-Type", "").startswith("text/html")
    return response.status_code in SHOWN and html and not response.streaming


def _record(request: HttpRequest, response: HttpResponse) -> None:
    route, at = route_of(request), now()
    by = By(request.user, at, timezone.localdate(at), origin=origin_of(request))  # type: ignore[arg-type]
    patient = _patient_of(request, route)
    if patient:
        if request.method != "POST" or not _is_open(patient, by, route):
            looked(patient, by=by, route=route)
    elif rows := _rows_in(response.content):
        listed(by=by, route=route, rows=rows)


def _patient_of(request: HttpRequest, route: str) -> Patient | None:
    """Whose record the address names, if it names one."""
    row, match = ADDRESSES.get(route), request.resolver_match
    if row is None or match is None or row.holds not in OF_A_PATIENT:
        return None
    return behind(row.holds, str(match.kwargs.get("code", ""))).first()


def _is_open(patient: Patient, by: By, route: str) -> bool:
    return Look.objects.filter(patient=patient, by=by.staff, route=route, at__gte=by.at - OPEN_FOR).exists()


def _rows_in(page: bytes) -> int:
    """To how many records of the kind that it names most a page leads."""
    found = set(RECORDS.findall(page))
    kinds = [kind for kind, _ in found]
    return max((kinds.count(kind) for kind in set(kinds)), default=0)
