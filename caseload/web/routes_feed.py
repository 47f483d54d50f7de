"""Addresses of calendars. The key of a private one is 160 bits of chance, and stands in no log: those name routes."""

from django.urls import path, re_path

from caseload.web.views import feed

calendars = [
    path("appointments/<slug:code>/calendar.ics", feed.one, name="appointment-calendar"),
    path("calendar-address/", feed.show, name="feed"),
    path("calendar-address/make/", feed.make, name="feed-make"),
    path("calendar-address/withdraw/", feed.revoke, name="feed-revoke"),
    path("calendar-address/initials/", feed.initials, name="feed-initials"),
    re_path(r"^feeds/(?P<key>[0-9a-f]{40})\.ics$", feed.serve, name="feed-file"),
]
