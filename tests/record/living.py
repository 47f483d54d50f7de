"""What lives through random days by the real acts, some of which are refused."""

from collections.abc import Callable, Sequence
from contextlib import suppress
from datetime import date, timedelta
from random import Random

from django.db.models import QuerySet

from caseload.actions.act import By
from caseload.errors import Refusal
from tests.scenario import Fernhollow, by


class Living:
    """`acts` are chosen from, after one of `passing` days; `log` names what was done, for whoever looks into it."""

    acts: Sequence[Callable[[], object]]
    passing: Sequence[int]

    def __init__(self, clinic: Fernhollow, chance: Random, today: date) -> None:
        self.clinic, self.chance, self.today = clinic, chance, today
        self.log: list[str] = []

    def step(self) -> None:
        """Some days may pass; then one act, which may be refused."""
        self.today += timedelta(days=self.chance.choice(self.passing))
        act = self.chance.choice(self.acts)
        with suppress(Refusal):
            act()
            self.log.append(f"{self.today} {act.__name__}")

    def by(self, who: str = "therapist") -> By:
        return by(getattr(self.clinic, who), self.today)

    def pick(self, rows: QuerySet):
        found = list(rows.order_by("pk"))
        if not found:
            raise Refusal("nothing", "Nothing to pick from.")
        return self.chance.choice(found)
