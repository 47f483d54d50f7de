"""Taking in a theatre list of 10,000 rows, against `bulk_create` of the very same rows, in turns in one run.

    python -m tests.benchmarks.intake [ROWS] [TURNS]

With DATABASE_URL it measures there, else on SQLite in a file. The confirmation includes everything: the rows held
against the record, the timetables, the headlines, the waits, the trail, the marks on the list. The yardstick makes the
objects from ready values and writes them in one transaction, 500 at a time.
"""

import os
import random
import statistics
import sys
import time
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from datetime import time as clock

import django

TODAY = date(2026, 4, 1)
GOAL = 1.5
HEADERS = (
    "Hospital number,Surname,First name,Date of birth,Telephone,Surgery date,Side,Digit,Technique,Suture,Stitches in,"
    "Surgeon,Site,Hand therapy,Referral received"
)
FIRST = ("ka", "lo", "mi", "ne", "ru", "sa", "to", "vi", "be", "da", "fe", "go")


def listing(rows: int, seed: int = 1) -> bytes:
    """A list of so many different people, each with one operation of the last two months."""
    chance = random.Random(seed)
    return "\n".join([HEADERS, *(line(chance, number) for number in range(rows))]).encode()


def line(chance: random.Random, number: int) -> str:
    surgery_on = TODAY - timedelta(days=chance.randrange(60))
    born_on = date(1930, 1, 1) + timedelta(days=chance.randrange(25_000))
    cells = (
        f"QS{number:06}", word(chance, 4), word(chance, 3), born_on, f"07700 900{number % 1000:03}", surgery_on,
        chance.choice(["left", "right"]), chance.choice(["thumb", "index", "middle", "ring", "little"]),
        "percutaneous" if number % 10 == 0 else "open", "none" if number % 10 == 0 else "nylon",
        "" if number % 10 == 0 else 3, "P Quill", "Fernhollow", "yes", surgery_on + timedelta(days=0),
    )  # fmt: skip
    return ",".join(map(str, cells))


def word(chance: random.Random, syllables: int) -> str:
    return "".join(chance.choice(FIRST) for _ in range(syllables)).capitalize()


def timed(do: Callable[[], object]) -> tuple[float, float]:
    """Seconds by the wall clock, and of this process's own work."""
    wall, own = time.perf_counter(), time.process_time()
    do()
    return time.perf_counter() - wall, time.process_time() - own


def main(rows: int, turns: int) -> None:
    from django.core.management import call_command
    from django.db import transaction

    from caseload.actions import confirming, intake
    from caseload.actions.act import By
    from caseload.models import Episode, FollowUp, Identifier, Patient, Referral, Staff, Standing, TrailEntry, Wait
    from tests.scenario import fernhollow

    record = (Patient, Identifier, Referral, Episode, FollowUp, Standing, Wait, TrailEntry)
    data, now = listing(rows), datetime.combine(TODAY, clock(9), tzinfo=UTC)
    uploads, confirms, bulks = [], [], []
    for _ in range(turns):
        call_command("flush", interactive=False, verbosity=0)
        fernhollow()
        Staff.objects.update(demo=True)  # where nobody is real, the trail may be wiped
        by = By(None, now, TODAY)
        batches: list = []
        uploads.append(timed(lambda: batches.append(intake.upload(data, file_name="long.csv", by=by))))  # noqa: B023
        TrailEntry.objects.all().delete()
        confirms.append(timed(lambda: confirming.confirm(batches[0], by=by, version=None)))  # noqa: B023
        values = {model: list(model.objects.values()) for model in record}
        for model in ("IntakeRow", "IntakeBatch"):
            django.apps.apps.get_model("caseload", model).objects.all().delete()
        for model in reversed(record):
            model.objects.all().delete()

        def write(values: dict = values) -> None:
            with transaction.atomic():
                for model, ready in values.items():
                    model.objects.bulk_create([model(**row) for row in ready], batch_size=500)

        bulks.append(timed(write))
        told = {model.__name__: len(ready) for model, ready in values.items()}
        print(f"upload {uploads[-1][0]:.1f} s, confirm {confirms[-1][0]:.1f} s, bulk_create {bulks[-1][0]:.1f} s")
    print(f"{rows} rows of the list, {sum(told.values())} rows written: {told}")
    for place, what in enumerate(("wall clock", "own work")):
        ratios = [confirm[place] / bulk[place] for confirm, bulk in zip(confirms, bulks, strict=True)]
        print(f"confirm / bulk_create by {what}: median {statistics.median(ratios):.2f}, goal {GOAL}")


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clinic.settings")
    django.setup()
    from django.db import connection

    if connection.vendor == "sqlite":
        import tempfile

        connection.settings_dict["TEST"]["NAME"] = f"{tempfile.mkdtemp()}/measure.sqlite3"
    connection.creation.create_test_db(verbosity=0, autoclobber=True)
    try:
        main(*(int(said) for said in (*sys.argv[1:], *("10000", "3")[len(sys.argv) - 1 :])))
    finally:
        connection.creation.destroy_test_db(connection.settings_dict["NAME"], verbosity=0)
