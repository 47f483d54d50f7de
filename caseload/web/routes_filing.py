"""Addresses of filed months and of the report."""

from django.urls import path

from caseload.web.views import filings, waits_report

filing = [
    path("waits/months/", filings.months, name="filings"),
    path("waits/months/<slug:code>/", filings.show, name="filing"),
    path("waits/months/<slug:code>/report/", waits_report.as_filed, name="filing-report"),
    path("waits/report/", waits_report.show, name="waits-report"),
]
