"""The addresses of people, under People and sessions."""

from django.urls import path

from caseload.web.views import people

people_pages = [
    path("people/", people.show, name="people"),
    path("people/new/", people.invite, name="person-new"),
    path("people/<slug:code>/", people.person, name="person"),
    path("people/<slug:code>/change/", people.change, name="person-change"),
    path("people/<slug:code>/leave/", people.leave, name="person-leave"),
    path("people/<slug:code>/take-back/", people.take_back, name="person-take-back"),
    path("people/<slug:code>/reset/", people.reset, name="person-reset"),
    path("people/<slug:code>/end-sessions/", people.end_sessions, name="person-end-sessions"),
]
