"""The pages named at the top of every page, and who sees which."""

from typing import NamedTuple

from django.http import HttpRequest
from django.urls import reverse

from caseload.models import Staff
from caseload.timetable.terms import Owner


class Entry(NamedTuple):
    """A page: the name of its address, its title, and the roles it is for."""

    name: str
    title: str
    roles: frozenset[Owner]


class Place(NamedTuple):
    """An entry as one reader sees it; `here` says that it is the page they are on."""

    href: str
    title: str
    here: bool


ANYBODY = frozenset(Owner)
ENTRIES = (
    Entry("today", "Today", frozenset({Owner.THERAPIST})),
    Entry("to-book", "To book", frozenset({Owner.ADMIN, Owner.LEAD})),
    Entry("diary", "Diary", ANYBODY),
    Entry("caseload", "Caseload", ANYBODY),
    Entry("overdue", "Overdue", ANYBODY),
    Entry("notices", "Notices", frozenset({Owner.ADMIN, Owner.LEAD})),
    Entry("intake", "Intake", frozenset({Owner.ADMIN, Owner.LEAD})),
    Entry("sessions", "Sessions", frozenset({Owner.ADMIN, Owner.LEAD})),
    Entry("waits", "Waits", frozenset({Owner.LEAD})),
    Entry("need", "Need and room", frozenset({Owner.LEAD})),
    Entry("rules", "Rules", ANYBODY),
)


def places(request: HttpRequest) -> list[Place]:
    staff = request.user
    if not isinstance(staff, Staff):
        return []
    here = request.resolver_match.url_name if request.resolver_match else ""
    return [
        Place(reverse(entry.name), entry.title, here == entry.name)
        for entry in ENTRIES
        if not entry.roles.isdisjoint(staff.roles)
    ]


def landing(staff: Staff) -> str:
    """The name of the page that a person begins on: a therapist with the day, an admin with what is to be booked,
    anybody else with what is overdue."""
    if staff.is_therapist:
        return "today"
    return "to-book" if staff.is_admin else "overdue"
