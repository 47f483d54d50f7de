"""The address of need and room."""

from django.urls import path

from caseload.web.views import need as views

need = [path("need/", views.show, name="need")]
