"""A database of any size, whose rows are those that the real acts would have left.

The demo is played through the real acts; then all that it has of every patient is copied until so many episodes are
open (`cloning`, `diary`). Eight therapists share the caseload, others hold the sessions. No trail of a copy names the
new name of its patient, and no session of a copy has a trail: nothing else is told apart from what acts would write.
"""

import random
import time
from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import Final

from django.core.management import call_command
from django.core.management.color import no_style
from django.db import connection
from django.db.models import Max, Model
from django.utils import timezone
from stdnum.gb import nhs

from caseload.models import Episode, Identifier, Job, Session, Slot, Staff
from caseload.parsing import phone_key, search_key
from caseload.parsing.identifiers import Scheme
from tests.benchmarks.intake import word
from tests.benchmarks.measuring import most_memory
from tests.benchmarks.size import cloning, diary
from tests.benchmarks.size.cloning import CLONED, PEOPLE, Plan, Row

OWNERS: Final = 8
"""Therapists who share the caseload: of 100,000 open episodes each has 12,500."""


def play(now: datetime) -> None:
    """The demo as of an instant, without the job that it asks for."""
    from caseload.demo.scenario import build

    build(timezone.localdate(now), now=now)
    Job.objects.all().delete()


def grow(wanted: int) -> Iterator[int]:
    """Copy what is there until at least so many episodes are open; tells how many after each portion."""
    there = Episode.objects.open().count()
    copies = max(0, -(-wanted // there) - 1)
    if copies:
        plan = planned(copies)
        cloning.helpers(helper_rows(plan))
        fast(connection.vendor)
        yield from (there * (done + 1) for done in cloning.clone(plan))
        settle_down(connection.vendor)


def planned(copies: int) -> Plan:
    """Keys are raised by the next power of ten above all that there are."""
    every: tuple[type[Model], ...] = (*CLONED, Session, Slot)
    highest = max(model._default_manager.aggregate(Max("pk"))["pk__max"] or 0 for model in every)
    stride = 10 ** len(str(highest))
    beyond = stride * (copies + 1)
    return Plan(copies, stride, beyond, beyond, diary.SLOTS, diary.FIRST_MINUTE)


def helper_rows(plan: Plan) -> dict[str, Iterable[Row]]:
    beginnings = fronts()
    return {
        "copy": ((k, k * plan.stride, next(beginnings), k % OWNERS) for k in range(1, plan.copies + 1)),
        "person": people(),
        "owner": shares(),
        "number": numbers(plan.copies),
        "place": list(diary.make_room(plan.copies, plan.first_session, plan.first_slot)),
        "seat": list(diary.seat_places()),
    }


def fronts() -> Iterator[str]:
    """How the codes of each copy begin: as no code does that is there."""
    coded = [model for model in CLONED if any(field.name == "code" for field in model._meta.concrete_fields)]
    taken = {code[:4] for model in coded for code in model._default_manager.values_list("code", flat=True)}
    return (f"{number:04}" for number in range(10_000) if f"{number:04}" not in taken)


def people(seed: int = 1) -> Iterator[Row]:
    """Names, and telephone numbers of the range that Ofcom has set aside for fiction."""
    chance = random.Random(seed)
    for place in range(PEOPLE):
        given, family, phone = word(chance, 3), word(chance, 4), f"07700 900{place % 1000:03}"
        yield place, given, family, search_key(f"{family} {given}"), phone, phone_key(phone)


def shares() -> Iterator[tuple[int, int, int]]:
    """Whose the episodes of each therapist are in each turn, so that all owners have as many in the end."""
    theirs = Episode.objects.filter(therapist__isnull=False).order_by("therapist").values_list("therapist", flat=True)
    first = list(theirs.distinct())
    owners = [*first, *(each.pk for each in diary.hire(OWNERS - len(first), "therapist"))]
    for place, therapist in enumerate(first):
        for turn in range(OWNERS):
            yield therapist, turn, owners[(place + turn) % OWNERS]


def numbers(copies: int) -> Iterator[tuple[int, int, str]]:
    """An NHS number of the test range (999 000 0000 to 999 999 9999) for each copy of whoever has one."""
    rows = Identifier.objects.filter(scheme=Scheme.NHS).values_list("pk", "value")
    taken = {value for _, value in rows}
    free = (value for value in _valid() if value not in taken)
    yield from ((key, k, next(free)) for key, _ in rows for k in range(1, copies + 1))


def _valid() -> Iterator[str]:
    for number in range(1, 1_000_000):
        check = -nhs.checksum(f"999{number:06}0") % 11
        if check < 10:
            yield f"999{number:06}{check}"


def fast(vendor: str) -> None:
    """Where a crash would only mean to fill it again: what slows a bulk load down is left out."""
    slow = {
        "sqlite": ("PRAGMA synchronous = OFF", "PRAGMA foreign_keys = OFF", "PRAGMA cache_size = -262144"),
        "postgresql": (
            "SET session_replication_role = replica",
            "SET jit = off",
            "ALTER SYSTEM SET autovacuum = off",
            "SELECT pg_reload_conf()",
        ),
    }[vendor]
    if connection.in_atomic_block:
        return
    with connection.cursor() as cursor:
        for each in slow:
            cursor.execute(each)


def settle_down(vendor: str) -> None:
    """What a database does by itself in the days over which such a record comes to be: nothing on SQLite."""
    with connection.cursor() as cursor:
        for each in connection.ops.sequence_reset_sql(no_style(), [*CLONED, Session, Slot, Staff]):
            cursor.execute(each)
    if vendor == "postgresql" and not connection.in_atomic_block:
        with connection.cursor() as cursor:
            cursor.execute("SET session_replication_role = origin")
            for each in ("ALTER SYSTEM RESET autovacuum", "SELECT pg_reload_conf()", "VACUUM ANALYZE"):
                cursor.execute(each)


def main(wanted: str) -> None:
    """The demo for 0, else what is there made as large."""
    began = time.monotonic()
    if wanted == "0":
        call_command("migrate", verbosity=0)
        play(timezone.now())
        print(f"demo played by the real acts in {time.monotonic() - began:.0f} s", flush=True)
        return
    there = 0
    for there in grow(int(wanted)):
        print(f"{there:,} open episodes after {time.monotonic() - began:.0f} s", end="\r", flush=True)
    print(f"{there:,} open episodes filled in {time.monotonic() - began:.0f} s, {most_memory()} MB at the most")
