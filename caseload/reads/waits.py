"""The waits of a period as figures, counted from one table, and the waits behind each figure."""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from django.db.models import QuerySet

from caseload.models import Wait
from caseload.waits.figures import Figures
from caseload.waits.rows import Period
from caseload.waits.terms import Behind, Clock


class By(StrEnum):
    """What a trend is cut into."""

    WEEK = "week"
    MONTH = "month"


@dataclass(frozen=True, slots=True)
class Asked:
    """Which waits; empty for all. `by` is what the trend is cut into. `site` and `therapist` are keys of rows."""

    clock: Clock
    period: Period
    site: int | None = None
    therapist: int | None = None
    surgeon: str = ""
    suture: str = ""
    priority: str = ""
    by: By = By.WEEK


def figures_of(asked: Asked, today: date) -> Figures:
    """Everything that is said of these waits; days after today are not counted. A constant number of queries.

    Groups are named by the codes of sites and therapists, by the names of surgeons, and by state words.
    """
    raise NotImplementedError


def behind(asked: Asked, which: Behind, today: date) -> QuerySet[Wait]:
    """The waits behind a figure of the period, the longest first."""
    raise NotImplementedError


def surgeons() -> list[str]:
    """The names that waits stand under, by the alphabet; "" is not among them."""
    found = Wait.objects.exclude(surgeon="").order_by().values_list("surgeon", flat=True).distinct()
    return sorted(found, key=str.casefold)


def is_there(today: date) -> bool:
    """Whether there is any wait to speak of."""
    return Wait.objects.filter(started_on__lte=today).exists()
