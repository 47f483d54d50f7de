"""Addresses of the booking list. The row is named by the code of its episode and its lasting key."""

from django.urls import path

from caseload.web.views import to_book as views

to_book = [
    path("to-book/", views.show, name="to-book"),
    path("to-book/visit/", views.visit, name="to-book-visit"),
    path("to-book/call/", views.call, name="to-book-call"),
    path("to-book/told/", views.tell, name="to-book-told"),
    path("to-book/open/", views.keep_open, name="to-book-open"),
]
