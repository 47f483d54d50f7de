"""Addresses of the filling of the diary."""

from django.urls import path

from caseload.web.views import fill as views

fill = [
    path("fill/", views.show, name="fill"),
    path("fill/<slug:code>/", views.show_plan, name="fill-plan"),
]
