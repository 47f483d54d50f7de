"""The names that lists are filtered by: sites and therapists, in one query."""

from collections.abc import Iterable
from typing import NamedTuple

from django.db.models import CharField, Exists, OuterRef, Q, Value

from caseload.models import Episode, Site, Staff


class Named(NamedTuple):
    code: str
    id: int
    name: str


class Names(NamedTuple):
    """In the order of their names."""

    sites: tuple[Named, ...]
    therapists: tuple[Named, ...]

    def site(self, id: int | None) -> str:
        return next((each.name for each in self.sites if each.id == id), "")

    def therapist(self, id: int | None) -> str:
        return next((each.name for each in self.therapists if each.id == id), "")


def names() -> Names:
    """Every site, and everybody who is or was a therapist here, or still has an open episode without being one."""
    sites = Site.objects.order_by().values_list(_tag("site"), "code", "id", "name")
    has_some = Q(is_therapist=True) | Exists(Episode.objects.open().filter(therapist=OuterRef("pk")))
    staff = Staff.objects.filter(has_some).order_by().values_list(_tag("staff"), "code", "id", "name")
    rows = sorted(sites.union(staff, all=True), key=lambda row: (row[3].casefold(), row[2]))
    return Names(
        tuple(Named(*row[1:]) for row in rows if row[0] == "site"),
        tuple(Named(*row[1:]) for row in rows if row[0] == "staff"),
    )


def _tag(word: str) -> Value:
    return Value(word, output_field=CharField())


def demo_sign_ins(usernames: Iterable[str]) -> list[Staff]:
    """Those of the invented people of the demo; none in a real service."""
    return list(Staff.objects.filter(demo=True, is_active=True, username__in=usernames))
