"""Taking in a theatre list of 10,000 rows, against `bulk_create` of the very same rows, in turns in one run.

    python -m tests.benchmarks.intake [ROWS] [TURNS]

With DATABASE_URL it measures there, else on SQLite in a file. The confirmation includes everything: the rows held
against the record, the timetables, the headlines, the waits, the trail, the marks on the list. The yardstick makes the
objects from ready values and writes them in one transaction, 500 at a time.
"""

import random
import sys
from datetime import date, timedelta
from typing import NamedTuple

from django.db.models import Model

from tests.benchmarks import fresh
from tests.benchmarks.fresh import NOW, TODAY
from tests.benchmarks.measuring import Took, ratios, timed
from tests.benchmarks.statements import create

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


class Turn(NamedTuple):
    """One list, taken in and then written bare; how many rows each table was given."""

    upload: Took[object]
    confirm: Took[object]
    bulk: Took[object]
    rows: dict[str, int]


def turn(data: bytes) -> Turn:
    from django.core.management import call_command

    from caseload import models as m
    from caseload.actions import confirming, intake
    from caseload.actions.act import By
    from tests.scenario import fernhollow

    record: tuple[type[Model], ...] = (
        m.Patient, m.Identifier, m.Referral, m.Episode, m.FollowUp, m.Standing, m.Wait, m.TrailEntry
    )  # fmt: skip
    call_command("flush", interactive=False, verbosity=0)
    fernhollow()
    m.Staff.objects.update(demo=True)  # where nobody is real, the trail may be wiped
    by = By(None, NOW, TODAY)
    upload = timed(lambda: intake.upload(data, file_name="long.csv", by=by))
    m.TrailEntry.objects.all().delete()
    confirm = timed(lambda: confirming.confirm(upload.came, by=by, version=None))
    values = {model: list(model._default_manager.values()) for model in record}
    m.IntakeRow.objects.all().delete()
    m.IntakeBatch.objects.all().delete()
    for model in reversed(record):
        model._default_manager.all().delete()
    bulk = timed(lambda: create(values))
    return Turn(upload, confirm, bulk, {model.__name__: len(ready) for model, ready in values.items()})


def main(rows: int, turns: int) -> None:
    data, found = listing(rows), list[Turn]()
    for _ in range(turns):
        found.append(each := turn(data))
        told = f"upload {each.upload.wall:.1f} s, confirm {each.confirm.wall:.1f} s"
        print(f"{told}, bulk_create {each.bulk.wall:.1f} s", flush=True)
    print(f"{rows} rows of the list, {sum(found[-1].rows.values())} rows written: {found[-1].rows}")
    ratios("confirm / bulk_create", [(each.confirm, each.bulk) for each in found], f", goal {GOAL}")


if __name__ == "__main__":
    with fresh.database():
        main(*(int(said) for said in (*sys.argv[1:], *("10000", "3")[len(sys.argv) - 1 :])))
