"""Addresses of the trail."""

from django.urls import path

from caseload.web.views import trail as views

trail_pages = [
    path("trail/", views.show, name="trail"),
    path("trail/check/", views.check, name="trail-check"),
]
