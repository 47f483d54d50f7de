"""Addresses of the plan sheet, and of the work that makes a file of it."""

from django.urls import path

from caseload.web.views import job, plan_sheet

OF_EPISODE = "episodes/<slug:code>/plan-sheet/"

sheets = [
    path(OF_EPISODE, plan_sheet.show, name="plan-sheet"),
    path(f"{OF_EPISODE}pdf/", plan_sheet.make_file, name="plan-sheet-file"),
    path("jobs/<slug:code>/", job.show, name="job"),
    path("jobs/<slug:code>/file/", job.file, name="job-file"),
]
