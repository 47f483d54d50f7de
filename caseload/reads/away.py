"""Who is away today, and to whom what is theirs passes: the named cover, else the lead."""

from collections.abc import Mapping
from datetime import date
from typing import Any, NamedTuple

from django.db.models import QuerySet

from caseload.models import Absence, Staff
from caseload.reads.prepared import Prepared
from caseload.timetable.terms import Owner


class Away(NamedTuple):
    """A therapist who is away until a day. `cover_id` is None where the lead has what is theirs."""

    name: str
    until: date
    cover_id: int | None
    cover: str


class Absent(dict[int, Away]):
    """Those who are away, by the id of the therapist."""

    @property
    def to_lead(self) -> frozenset[int]:
        return frozenset(id for id, away in self.items() if away.cover_id is None)

    def passed_to(self, staff: Staff) -> frozenset[int]:
        """The therapists whose items somebody has today; a lead has those of whoever nobody covers."""
        covered = frozenset(id for id, away in self.items() if away.cover_id == staff.pk)
        return covered | self.to_lead if Owner.LEAD in staff.roles else covered

    def owner(self, owner: str, therapist: int | None) -> str:
        """Whose something is today: the lead's, where the therapist is away and nobody covers."""
        return str(Owner.LEAD) if owner == Owner.THERAPIST and therapist in self.to_lead else owner


def away_on(today: date) -> Absent:
    """Whoever is away on a day, in one query. Where the cover is away too, their own cover has it."""
    named = {id: Away(name, until, cover, said or "") for id, name, until, cover, said in _AWAY(today)}
    return Absent({id: _present(away, named, {id}) for id, away in named.items()})


def _away(today: date) -> QuerySet[Absence, Any]:
    rows = Absence.objects.filter(starts_on__lte=today, ends_on__gte=today).order_by("ends_on", "id")
    return rows.values_list("therapist_id", "therapist__name", "ends_on", "cover_id", "cover__name")


_AWAY = Prepared(_away)


def _present(away: Away, named: Mapping[int, Away], passed: set[int]) -> Away:
    """The same with a cover who is there; none where the covers lead round in a circle."""
    cover = away.cover_id
    if cover is None or cover not in named:
        return away
    if cover in passed:
        return away._replace(cover_id=None, cover="")
    further = named[cover]._replace(name=away.name, until=away.until)
    return _present(further, named, passed | {cover})
