"""The addresses of people and sessions."""

from django.urls import path

from caseload.web.views import absences, sessions, weeks

people_and_sessions = [
    path("sessions/", sessions.show, name="sessions"),
    path("sessions/new/", sessions.add, name="session-new"),
    path("sessions/<slug:code>/change/", sessions.change, name="session-change"),
    path("sessions/<slug:code>/hold-again/", sessions.hold_again, name="session-hold-again"),
    path("weeks/new/", weeks.add, name="week-new"),
    path("weeks/<slug:code>/", weeks.show, name="week"),
    path("weeks/<slug:code>/change/", weeks.change, name="week-change"),
    path("weeks/<slug:code>/end/", weeks.end, name="week-end"),
    path("absences/new/", absences.add, name="absence-new"),
    path("absences/<int:pk>/end/", absences.end, name="absence-end"),
    path("closures/new/", absences.close, name="closure-new"),
    path("closures/<int:pk>/", absences.closure, name="closure"),
    path("closures/<int:pk>/reopen/", absences.reopen, name="closure-reopen"),
]
