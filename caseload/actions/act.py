"""What every act has in common: one transaction, one check of the role and of whose patient it is, one key, one trail.

    @act(Act.FINDING_RECORD)
    def record(episode, ..., *, by: By) -> Finding: ...

The function returns the object it made or changed. Called again with the key of an earlier call, it does nothing and
raises Repeated, which carries the code of that earlier object, so that a double click lands where the first one did.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import wraps
from typing import Any, ParamSpec, TypeVar
from uuid import UUID

from django.db import IntegrityError, models, transaction

from caseload.access import Act, demand
from caseload.actions.pending import pending
from caseload.actions.turns import in_turn
from caseload.actions.waits import kept, touch
from caseload.actions.yours import meet, only_yours
from caseload.errors import Refusal
from caseload.models import Staff, Submission, TrailEntry
from caseload.timetable.terms import Owner

P = ParamSpec("P")
R = TypeVar("R")


@dataclass(frozen=True, slots=True)
class By:
    """Who acts, at which instant, on which local day, under which idempotency key, from where, and why where a reason
    was asked for. `staff` is None for the planner itself (a command or background work), which may do everything.
    """

    staff: Staff | None
    at: datetime
    today: date
    key: UUID | None = None
    origin: str = ""
    why: str = ""

    @property
    def unkeyed(self) -> "By":
        """The same without the key, for an act within another."""
        return replace(self, key=None)

    @property
    def roles(self) -> frozenset[Owner]:
        return self.staff.roles if self.staff else frozenset(Owner)

    @property
    def person(self) -> Staff:
        """Who signs for it. Raises Refusal `needs-a-person` where the planner itself would have to."""
        if self.staff is None:
            raise Refusal("needs-a-person", "This has to be signed by a person.")
        return self.staff


class Repeated(Exception):
    """The form was already carried out; `outcome` is the code of what it made or changed."""

    def __init__(self, outcome: str) -> None:
        super().__init__(outcome)
        self.outcome = outcome


def act(name: Act) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Make a function an act: see the module. Its keyword argument `by` is mandatory."""

    def make(function: Callable[P, R]) -> Callable[P, R]:
        @wraps(function)
        def wrapper(*args: P.args, **kwargs: P.kwargs) -> R:
            by: Any = kwargs["by"]
            demand(by.roles, name)
            about = only_yours(name, (*args, *kwargs.values()), by.staff, by.at)
            with in_turn(), transaction.atomic(), kept(), about:
                submission = _claim(name, by)
                result = function(*args, **kwargs)
                if submission:
                    submission.outcome = getattr(result, "code", "") or ""
                    submission.save(update_fields=["outcome"])
                return result

        wrapper.act = name  # type: ignore[attr-defined]
        return wrapper

    return make


def _claim(name: Act, by: By) -> Submission | None:
    """Take the key of the form, or raise Repeated if it was taken by an act that has been carried out."""
    if by.key is None or by.staff is None:
        return None
    try:
        with transaction.atomic():
            return Submission.objects.create(key=by.key, by=by.staff, act=name, at=by.at)
    except IntegrityError:
        earlier = Submission.objects.filter(key=by.key, by=by.staff, act=name).first()
        if earlier is None:
            raise Refusal("key-taken", "This form was sent before for something else. Open the page again.") from None
        raise Repeated(earlier.outcome) from None


def carried_out(by: By) -> str | None:
    """The outcome of an act that this key was used for, None if there was none: a form sent again is no error."""
    if by.key is None or by.staff is None:
        return None
    return Submission.objects.filter(key=by.key, by=by.staff).values_list("outcome", flat=True).first()


def trail(name: Act, subject: models.Model, *, by: By, patient_id: int | None, changed: dict[str, Any]) -> None:
    """Write who did what to which row; `changed` is {field: [was, now]} in plain JSON values."""
    written = entry(name, subject, by=by, patient_id=patient_id, changed=changed)
    left = pending.get()
    if left is None:
        TrailEntry.objects.create(**written)
    else:
        left.enter(written)


def entry(
    name: Act, subject: models.Model, *, by: By, patient_id: int | None, changed: dict[str, Any]
) -> dict[str, Any]:
    """The same as values, for who writes many at once."""
    touch(name, patient_id)
    meet(patient_id)
    return {
        "at": by.at,
        "by": by.staff,
        "act": name,
        "patient_id": patient_id,
        "subject": subject._meta.model_name or "",
        "subject_id": subject.pk,
        "changed": said(changed),
        "origin": by.origin,
        "why": by.why,
    }


def said(changed: dict[str, tuple[object, object]]) -> dict[str, list[object]]:
    """What an act changed, as the trail holds it."""
    return {field: [plain(was), plain(now)] for field, (was, now) in changed.items()}


def plain(value: object) -> object:
    """A value as JSON can hold it: dates in ISO form, rows by their key."""
    if isinstance(value, date | datetime):
        return value.isoformat()
    return value.pk if isinstance(value, models.Model) else value


def fresh(row: Any, version: int | None) -> None:
    """Lock `row` and refuse with `changed-meanwhile` unless it still has the `version` that the person saw.

    Its key stays: whoever writes a row that only points to it does not wait.
    """
    locked = type(row).objects.select_for_update(no_key=True).only("version").get(pk=row.pk)
    unchanged(row, locked.version, version)
    row.version = locked.version


def unchanged(row: Any, stored: int, seen: int | None) -> None:
    """Refuse with `changed-meanwhile` where somebody saw another version than the one `stored`."""
    if seen is not None and stored != seen:
        raise Refusal(
            "changed-meanwhile",
            "Somebody else changed this while you were typing. Compare both versions and save again.",
            row=row,
        )


def apply(row: Any, changes: dict[str, Any]) -> dict[str, tuple[object, object]]:
    """Set `changes` on `row`, raise its version and save; give back what really changed as {field: (was, now)}."""
    moved = {name: (getattr(row, name), now) for name, now in changes.items() if getattr(row, name) != now}
    for name, (_, now) in moved.items():
        setattr(row, name, now)
    if moved:
        row.version += 1
        row.save(update_fields=[*moved, "version"])
    return moved
