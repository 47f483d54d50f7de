"""Addresses of notices: whom to ring, letters and their batches, what was sent, by opaque codes."""

from django.urls import path

from caseload.web.views import letters, notices

OF_BATCH = "notices/letters/<slug:code>/"
OF_NOTICE = "notices/<slug:code>/"

notice_pages = [
    path("notices/", notices.show, name="notices"),
    path("notices/letters/", letters.make, name="letters-print"),
    path(OF_BATCH, letters.show, name="letter-batch"),
    path(f"{OF_BATCH}posted/", letters.posted, name="letters-posted"),
    path(f"{OF_BATCH}put-back/", letters.put_back, name="letters-put-back"),
    path("notices/referrers/<slug:code>/", letters.to_referrer, name="referrer-letter"),
    path(OF_NOTICE, notices.read, name="notice"),
    path(f"{OF_NOTICE}rung/", notices.rung, name="notice-rung"),
    path(f"{OF_NOTICE}call/", notices.call, name="notice-call"),
    path(f"{OF_NOTICE}withdraw/", notices.withdraw, name="notice-withdraw"),
]
