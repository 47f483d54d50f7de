"""A visit: recorded, against the bare statements that it must write; its page and its preview, against an empty page.

    python -m tests.benchmarks.visit [TURNS]

With DATABASE_URL it measures there, else on SQLite in a file. Both sides of a pair take turns in one run, each in a
transaction that is rolled back, so that both begin from the same rows; what a commit costs is in neither.
"""

import sys
from collections.abc import Callable
from typing import Any

from django.db import connection
from django.db.models import Model

from tests.benchmarks import fresh
from tests.benchmarks.fresh import NOW, TODAY
from tests.benchmarks.measuring import Took, ratios, timed
from tests.benchmarks.statements import Recorder, Statement, execute, inserted, undone

SHOWN = {
    "d1_stitches_out": "4",
    "d1_stitches_left": "0",
    "d1_wound": "closed",
    "d1_after": "review",
    "d1_in_days": "14",
}


def recording(turns: int) -> None:
    from caseload.actions import visits
    from caseload.actions.act import By
    from caseload.measures.bodies import Pain
    from caseload.measures.terms import MeasureKind
    from caseload.timetable.terms import AfterVisit
    from tests.scenario import fernhollow

    clinic = fernhollow()
    episode = clinic.episode()
    appointment = clinic.book([episode.follow_ups.get(key="stitches-out")], TODAY)
    found: list[dict[str, Any]] = [
        {"kind": "stitches", "stitches_out": 4, "stitches_left": 0}, {"kind": "wound", "wound": "closed"}
    ]  # fmt: skip

    def record() -> None:
        appointment.refresh_from_db()
        episode.refresh_from_db()
        look = visits.Look(episode, AfterVisit.REVIEW, findings=found, measured={MeasureKind.PAIN: Pain(3)}, in_days=14)
        by = By(clinic.therapist, NOW, TODAY)
        visits.record(episode.patient, by=by, on=TODAY, looks=[look], appointment=appointment, taught="bending")

    statements = written_by(record)
    pairs = [(rolled_back(record), rolled_back(lambda: execute(statements))) for _ in range(turns + 2)]
    print(f"{connection.vendor}: {len(statements)} statements write one visit")
    ratios("record / bare statements", pairs[2:])


def written_by(do: Callable[[], object]) -> list[Statement]:
    """The statements that write what `do` writes, one for each row; it is undone."""
    record = Recorder()
    with undone():
        before = {model: set(model._default_manager.values_list("pk", flat=True)) for model in tables()}
        with connection.execute_wrapper(record):
            do()
        new = [row for model, keys in before.items() for row in model._default_manager.exclude(pk__in=keys)]
        return [*record.writes, *map(inserted, new)]


def tables() -> tuple[type[Model], ...]:
    """Tables that a visit writes, in an order in which each row finds those that it names."""
    from caseload import models as m

    return (m.Visit, m.SetReview, m.Examined, m.Finding, m.Measurement, m.FollowUp, m.Completion, m.Standing,
            m.TrailEntry)  # fmt: skip


def rolled_back(do: Callable[[], object]) -> Took[object]:
    with undone():
        return timed(do)


def pages(turns: int) -> None:
    import time_machine
    from django.core.management import call_command
    from django.test import Client
    from django.test.utils import setup_test_environment

    from tests.scenario import fernhollow
    from tests.web.posting import held

    setup_test_environment()
    call_command("collectstatic", interactive=False, verbosity=0)
    clinic, client = fernhollow(), Client()
    client.force_login(clinic.therapist)
    address = f"/episodes/{clinic.episode().code}/visit/"
    with time_machine.travel(NOW, tick=True):
        typed = held(client.get(address).context["form"]) | SHOWN | {"live": "1"}
        work = {
            "the page": lambda: client.get(address),
            "what saving changes, while typing": lambda: client.post(address, typed),
        }
        for name, do in work.items():
            pairs = [(timed(do), timed(lambda: client.get("/help/"))) for _ in range(turns + 2)]
            ratios(f"{name} / the help page", pairs[2:])


def main(turns: int) -> None:
    from django.core.management import call_command

    recording(turns)
    call_command("flush", interactive=False, verbosity=0)
    pages(turns)


if __name__ == "__main__":
    with fresh.database():
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
