"""Rule sets from their rows, each parsed once."""

from collections.abc import Collection

from caseload.errors import Refusal
from caseload.models import RuleSet as Row
from caseload.timetable.rules import RuleSet

_parsed: dict[str, RuleSet] = {}


def rules_of(row: Row) -> RuleSet:
    """The rules of a version. A version is frozen, so its digest stands for it."""
    if row.digest not in _parsed:
        _parsed[row.digest] = RuleSet.from_json(row.body)
    return _parsed[row.digest]


def rules_of_digest(digest: str) -> RuleSet:
    """The same by digest alone: asks the database for a body only the first time that it is needed."""
    return _parsed.get(digest) or rules_of(Row.objects.filter(digest=digest)[0])


def in_force() -> Row:
    """The rules that a new episode is opened under: the signed-off set, or the newest where several are signed.

    Raises Refusal `no-rules` where none is signed off yet.
    """
    row = Row.objects.filter(signed_at__isnull=False, retired_at__isnull=True).order_by("-signed_at", "-id").first()
    if row is None:
        raise Refusal("no-rules", "No rules are signed off yet. Ask the lead therapist before opening an episode.")
    return row


def sets_to_show() -> list[tuple[Row, RuleSet]]:
    """Every version that was signed off, with its rules: those in force first, as `in_force` chooses among them."""
    rows = Row.objects.filter(signed_at__isnull=False).select_related("signed_by").order_by("-signed_at", "-id")
    return [(row, rules_of(row)) for row in sorted(rows, key=lambda row: row.retired_at is not None)]


def set_named(text: str) -> Row | None:
    """The signed-off version that is called so, such as “two-week 1”."""
    rows = Row.objects.filter(signed_at__isnull=False).select_related("signed_by")
    return next((row for row in rows if str(row) == text), None)


def titles_of(texts: Collection[str]) -> list[str]:
    """Versions that are called so, by the title of their set: “Two weeks, version 1”; as it is where it is gone."""
    titles = {str(row): f"{row.title}, version {row.version}" for row in Row.objects.only("name", "version", "title")}
    return [titles.get(text, text) for text in texts]


def next_version(name: str) -> str:
    """The number of the next version of a set, as text."""
    versions = Row.objects.filter(name=name).values_list("version", flat=True)
    return str(max((int(each) for each in versions if each.isdecimal()), default=0) + 1)
