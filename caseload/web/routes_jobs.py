"""Addresses of long work."""

from django.urls import path

from caseload.web.views import job

jobs = [
    path("jobs/", job.show_all, name="jobs"),
    path("jobs/<slug:code>/", job.show, name="job"),
    path("jobs/<slug:code>/file/", job.file, name="job-file"),
    path("jobs/<slug:code>/cancel/", job.cancel, name="job-cancel"),
]
