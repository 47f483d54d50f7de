"""Addresses of privacy: what is held on one patient, how long it is kept, and what goes when its time is over."""

from django.urls import path

from caseload.web.views import privacy

privacy_pages = [
    path("patients/<slug:code>/file/", privacy.file, name="patient-file"),
    path("patients/<slug:code>/keep/", privacy.keep, name="patient-keep"),
    path("retention/", privacy.over, name="retention"),
]
