"""The addresses of the intake."""

from django.urls import path

from caseload.web.views import intake as views

intake = [
    path("intake/", views.start, name="intake"),
    path("intake/<slug:code>/", views.show, name="intake-list"),
    path("intake/<slug:code>/columns/", views.columns, name="intake-columns"),
    path("intake/<slug:code>/answers/", views.answers, name="intake-answers"),
    path("intake/<slug:code>/confirm/", views.confirm, name="intake-confirm"),
    path("intake/<slug:code>/throw-away/", views.throw_away, name="intake-throw-away"),
    path("intake/<slug:code>/refused/", views.refused_rows, name="intake-refused"),
]
