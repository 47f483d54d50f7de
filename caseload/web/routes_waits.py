"""Addresses of the waits: what they are, who stands behind a figure, months that were filed, and the report."""

from django.urls import URLPattern, path

from caseload.web.views import wait_patients
from caseload.web.views.waits import show

waits: list[URLPattern] = [
    path("waits/", show, name="waits"),
    path("waits/patients/", wait_patients.show, name="wait-patients"),
]
