"""Addresses of the plan sheet."""

from django.urls import path

from caseload.web.views import plan_sheet

OF_EPISODE = "episodes/<slug:code>/plan-sheet/"

sheets = [
    path(OF_EPISODE, plan_sheet.show, name="plan-sheet"),
    path(f"{OF_EPISODE}pdf/", plan_sheet.make_file, name="plan-sheet-file"),
]
