"""The names that lists are filtered by: sites and therapists, in one query."""

from collections.abc import Iterable
from typing import Any, NamedTuple

from django.db.models import CharField, OuterRef, Q, QuerySet, Subquery, Value

from caseload.models import Episode, Site, Staff
from caseload.reads.prepared import Prepared


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
    """Every site, and everybody who is or was a therapist here, or still has an open episode without being one.

    One of those episodes is looked for, from here to here: then it is the index that is read. Of an EXISTS PostgreSQL
    makes a set of all open episodes; told the therapist, it believes that it need not read far to meet one.
    """
    rows = sorted(_NAMES(), key=lambda row: (row[3].casefold(), row[2]))
    return Names(
        tuple(Named(*row[1:]) for row in rows if row[0] == "site"),
        tuple(Named(*row[1:]) for row in rows if row[0] == "staff"),
    )


def _names() -> QuerySet[Site, Any]:
    sites = Site.objects.order_by().values_list(_tag("site"), "code", "id", "name")
    theirs = Episode.objects.open().filter(therapist__gte=OuterRef("pk"), therapist__lte=OuterRef("pk"))
    one = Subquery(theirs.order_by().values("pk")[:1])
    has_some = Q(is_therapist=True) | Q(one__isnull=False)
    staff = Staff.objects.alias(one=one).filter(has_some).order_by().values_list(_tag("staff"), "code", "id", "name")
    return sites.union(staff, all=True)


def _tag(word: str) -> Value:
    return Value(word, output_field=CharField())


_NAMES = Prepared(_names)


def holds_demo() -> bool:
    """Whether the demo is loaded here."""
    return Staff.objects.filter(demo=True).exists()


def demo_sign_ins(usernames: Iterable[str]) -> list[Staff]:
    """Those of the invented people of the demo; none in a real service."""
    return list(Staff.objects.filter(demo=True, is_active=True, username__in=usernames))
