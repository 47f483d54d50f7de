"""Addresses of the diary: its days, its slots, and what follows when a session is called off."""

from django.urls import path

from caseload.web.views import diary, rehousing, slot

diary_pages = [
    path("diary/", diary.show, name="diary"),
    path("sessions/<slug:code>/slots/<int:minute>/", slot.show, name="slot"),
    path("sessions/<slug:code>/call-off/", rehousing.call_off, name="session-call-off"),
    path("rehousing/", rehousing.show, name="rehousing"),
]
