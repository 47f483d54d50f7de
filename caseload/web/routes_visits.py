"""Addresses of saved visits, by opaque codes."""

from django.urls import path

from caseload.web.views import saved_visit

OF_VISIT = "visits/<slug:code>/"

visits = [
    path(OF_VISIT, saved_visit.show, name="visit"),
    path(f"{OF_VISIT}book/", saved_visit.book, name="visit-book"),
    path(f"{OF_VISIT}withdraw/", saved_visit.withdraw, name="visit-withdraw"),
]
