"""Waits kept equal to the record.

`keep` is to waits what `settle` is to dates: derive, compare, write only what moved. Acts do not call it. Each entry of
the trail names its patient; those whose waits the act may have moved are looked at once, at the end of the outermost
act, in its transaction and after everything else of it.
"""

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from operator import itemgetter
from typing import Any, Final

from django.db import DEFAULT_DB_ALIAS, connection

from caseload.access import Act
from caseload.actions.rewriting import insert, rewrite
from caseload.models import Wait
from caseload.reads.waits_wanted import Wanted, of_referrals, wanted_of

OF_REFERRALS: Final = frozenset(
    {
        Act.REFERRAL_ADD, Act.APPOINTMENT_BOOK, Act.APPOINTMENT_MOVE, Act.APPOINTMENT_END, Act.APPOINTMENT_UNDO,
        Act.APPOINTMENT_WALK_IN, Act.SESSIONS_LOSE,
    }
)  # fmt: skip
"""Acts that move no wait but those of a referral."""
OF_ALL: Final = frozenset(
    {
        Act.REFERRAL_CORRECT, Act.EPISODE_OPEN, Act.EPISODE_CORRECT, Act.EPISODE_CLOSE, Act.EPISODE_REOPEN,
        Act.EPISODE_REOPERATE, Act.EPISODE_MOVE_RULES, Act.VISIT_RECORD, Act.VISIT_WITHDRAW, Act.FINDING_RECORD,
        Act.FINDING_CORRECT, Act.FINDING_COUNTERSIGN, Act.INSTRUCTION_GIVE, Act.INSTRUCTION_CONFIRM,
        Act.INSTRUCTION_WITHDRAW,
    }
)  # fmt: skip
"""Acts that may move any wait. All others move none."""
BATCH: Final = 250
LOCKS: Final = 512
"""So many locks stand for all patients: a list of ten thousand must not need as many."""
OURS: Final = 6021
"""Tells these locks from others of the same database."""
Moved = dict[str, tuple[object, object]]
Values = tuple[Any, ...]
"""A stored wait, column by column: most have not moved, and making an object of one takes longer than deriving."""
COLUMNS: Final = [field.attname for field in Wait._meta.concrete_fields]
_name: Final = itemgetter(*map(COLUMNS.index, ("episode_id", "referral_id", "key")))
_held: Final = itemgetter(*map(COLUMNS.index, Wait.DERIVED))
Derive = Callable[[Collection[int]], Iterable[Wanted]]


@dataclass
class Touched:
    """Keys of patients whose waits an act may have moved: those of their referrals, or all."""

    referrals: set[int] = field(default_factory=set)
    all_of: set[int] = field(default_factory=set)


@dataclass
class Writes:
    """What keeping the waits of some patients would write; `moved` tells each as (was, now), by patient and key."""

    new: list[Wait] = field(default_factory=list)
    changed: list[Wait] = field(default_factory=list)
    gone: list[int] = field(default_factory=list)
    moved: dict[int, Moved] = field(default_factory=dict)

    def say(self, row: Wait, was: str, now: str) -> None:
        self.moved.setdefault(row.patient_id, {})[f"wait {row.key}"] = (was, now)


touched: ContextVar[Touched | None] = ContextVar("touched", default=None)


@contextmanager
def kept() -> Iterator[None]:
    """The waits of every patient whom acts in here touch are kept at its end; inside another one, at that one's."""
    if touched.get() is not None:
        yield
        return
    left = Touched()
    token = touched.set(left)
    try:
        yield
    finally:
        touched.reset(token)
    keep(left.referrals - left.all_of, of_referrals)
    keep(left.all_of)


def touch(name: Act, patient: int | None) -> None:
    """An act has written something of a patient."""
    left = touched.get()
    if left is not None and patient is not None:
        if name in OF_ALL:
            left.all_of.add(patient)
        elif name in OF_REFERRALS:
            left.referrals.add(patient)


def keep(patients: Iterable[int], derive: Derive = wanted_of) -> None:
    """Make the stored waits of some patients those that are wanted: all, or those of referrals alone."""
    keys = sorted(patients)
    for start in range(0, len(keys), BATCH):
        write(compare(keys[start : start + BATCH], derive))


def compare(patients: Sequence[int], derive: Derive = wanted_of) -> Writes:
    """What is stored of some patients against what is wanted; locks it. Writes nothing."""
    _lock(patients)
    writes, wanted = Writes(), list(derive(patients))
    rows = Wait.objects.filter(patient__in=patients)
    if derive is of_referrals:
        if not wanted:
            return writes
        rows = rows.filter(referral__isnull=False)
    stored = {_name(values): values for values in rows.values_list(*COLUMNS)}
    for each in wanted:
        _compare_one(writes, each, stored.pop((each.episode_id, each.referral_id, each.wait.key), None))
    for row in map(_row, stored.values()):
        writes.gone.append(row.pk)
        writes.say(row, row.said(), "")
    return writes


def write(writes: Writes) -> None:
    if writes.gone:
        Wait.objects.filter(pk__in=writes.gone).delete()
    rewrite(writes.changed, [name.removesuffix("_id") for name in Wait.DERIVED])
    insert(writes.new)


def _compare_one(writes: Writes, wanted: Wanted, stored: Values | None) -> None:
    values = _values(wanted)
    if stored is None:
        row, was = Wait(key=wanted.wait.key, **values), ""
        writes.new.append(row)
    elif _held(stored) == tuple(values.values()):
        return
    else:
        row = _row(stored)
        was = row.said()
        row.take(values)
        writes.changed.append(row)
    writes.say(row, was, row.said())


def _row(values: Values) -> Wait:
    return Wait.from_db(DEFAULT_DB_ALIAS, COLUMNS, values)


def _values(wanted: Wanted) -> dict[str, object]:
    """In the order of `Wait.DERIVED`."""
    found = wanted._asdict() | wanted.group._asdict() | wanted.wait._asdict()
    return {name: found[name] for name in Wait.DERIVED}


def _lock(patients: Collection[int]) -> None:
    """Two acts on one patient are looked at one after the other. SQLite has one writer at a time anyway.

    No row is locked, because every row has been locked in some order before; this lock always comes last.
    """
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            keys = sorted({patient % LOCKS for patient in patients})
            cursor.execute("SELECT pg_advisory_xact_lock(%s, key) FROM unnest(%s::int[]) AS key", [OURS, keys])
