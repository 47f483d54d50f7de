"""Addresses of appointments: booked, moved, ended, told, taken back, by opaque codes."""

from django.urls import path

from caseload.web.views import appointment, booking

OF_EPISODE = "episodes/<slug:code>/"
OF_APPOINTMENT = "appointments/<slug:code>/"

appointments = [
    path(f"{OF_EPISODE}appointments/new/", booking.book, name="appointment-new"),
    path(f"{OF_APPOINTMENT}move/", booking.move, name="appointment-move"),
    path(f"{OF_APPOINTMENT}outcome/", appointment.end, name="appointment-end"),
    path(f"{OF_APPOINTMENT}told/", appointment.tell, name="appointment-tell"),
    path(f"{OF_APPOINTMENT}arrived/", appointment.arrive, name="appointment-arrive"),
    path(f"{OF_APPOINTMENT}undo/", appointment.undo, name="appointment-undo"),
]
