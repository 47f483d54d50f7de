"""A long list as a file: asked for here, made behind the pages."""

from typing import Any, Final

from caseload.access import Act
from caseload.actions import jobs
from caseload.actions.act import By, act
from caseload.models import Job, Look

KIND: Final = "export"


@act(Act.LIST_EXPORT)
def ask(name: str, *, by: By, rows: int, **asked: Any) -> Job:
    """Ask for a list of `rows` rows as a file. That it is taken away is recorded now; whoever asks may fetch it."""
    Look.objects.create(at=by.at, by=by.person, route=f"{name}-file", rows=rows, origin=by.origin)
    return jobs.ask(KIND, by=by, list=name, staff=by.person.pk, on=by.today.isoformat(), **asked)
