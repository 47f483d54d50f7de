"""Rule sets from their rows, each parsed once."""

from caseload.models import RuleSet as Row
from caseload.timetable.rules import RuleSet

_parsed: dict[str, RuleSet] = {}


def rules_of(row: Row) -> RuleSet:
    """The rules of a version. A version is frozen, so its digest stands for it."""
    if row.digest not in _parsed:
        _parsed[row.digest] = RuleSet.from_json(row.body)
    return _parsed[row.digest]


def in_force() -> Row:
    """The rules that a new episode is opened under: the signed-off set, or the newest where several are signed."""
    return Row.objects.filter(signed_at__isnull=False, retired_at__isnull=True).order_by("-signed_at", "-id")[0]
