"""Invented patients: names as an English town has them, numbers that were never issued, telephones that never ring.

NHS numbers are of the test range 999 000 0000 to 999 999 9999 (check digit: modulus 11), telephone numbers of the
ranges set aside for fiction by the regulator (Ofcom): 07700 900000 to 900999 and 01632 960000 to 960999.
"""

import json
from collections.abc import Iterator
from datetime import date
from functools import cache
from random import Random
from typing import Any

from django.conf import settings

from caseload.parsing.names import search_key

ALLERGIES = ("adhesive plasters", "iodine dressings", "latex")
STREETS = ("Alder Row", "Cooper's Lane", "Ferry Steps", "Hillside Crescent", "Orchard Close", "Ropewalk", "Weir Road")
TOWNS = (("Fernhollow", "FH1 4QZ"), ("Quay Street, Fernhollow", "FH2 7QZ"), ("Millbrook", "FH5 1QZ"))
"""No postcode begins with FH."""
INTERPRETED = 0.35
"""Of those who prefer another language, so many need an interpreter."""


class People:
    """Draws new people, no two of one name, number or hospital number."""

    def __init__(self, rng: Random) -> None:
        self.rng = rng
        self.writing = Random("writing")
        self.taken: set[tuple[str, str]] = set()
        self.nhs_numbers = nhs_numbers(rng)
        self.hospital_numbers = iter(rng.sample(range(100_000, 1_000_000), 20_000))

    def draw(self, born_on: date) -> dict[str, Any]:
        """The fields of `actions.patients.add` for somebody born on this day."""
        group = self.rng.choices(_groups(), weights=[group["share"] for group in _groups()])[0]
        given, family = self._name(group, born_on)
        named = {"given": given, "family": family, "born_on": born_on}
        return named | self._numbers() | self._reached(given, family) | self._needs(group)

    def _name(self, group: dict[str, Any], born_on: date) -> tuple[str, str]:
        given = next(names for year, names in group["born"].items() if born_on.year <= int(year))
        for _ in range(50):
            name = (self.rng.choice(given), self.rng.choice(group["family"]))
            if name not in self.taken:
                break
        self.taken.add(name)
        return name

    def _numbers(self) -> dict[str, str]:
        number = next(self.nhs_numbers)
        return {
            "nhs_number": f"{number[:3]} {number[3:6]} {number[6:]}" if self.rng.random() < 0.97 else "",
            "hospital_number": f"FH{next(self.hospital_numbers)}" if self.rng.random() < 0.6 else "",
        }

    def _reached(self, given: str, family: str) -> dict[str, Any]:
        mobile, address = self.rng.random() < 0.75, search_key(given, family).replace(" ", ".")
        reached = {
            "phone": f"07700 900{self.rng.randrange(1000):03}" if mobile else f"01632 960{self.rng.randrange(1000):03}",
            "email": f"{address}@example.org" if self.rng.random() < 0.5 else "",
        }
        return reached | self._written_to(bool(reached["email"]))

    def _written_to(self, email: bool) -> dict[str, Any]:
        """Most who gave an e-mail address agreed to be written to there; of all, more than half a postal one."""
        rng = self.writing
        house = f"{rng.randrange(1, 90)} {rng.choice(STREETS)}"
        town, code = rng.choice(TOWNS)
        return {
            "email_consent": email and rng.random() < 0.8,
            "postal_address": f"{house}\n{town}\n{code}" if rng.random() < 0.6 else "",
        }

    def _needs(self, group: dict[str, Any]) -> dict[str, Any]:
        other = bool(group["languages"]) and self.rng.random() < 0.45
        return {
            "language": self.rng.choice(group["languages"]) if other else "",
            "interpreter": other and self.rng.random() < INTERPRETED,
            "dressing_allergy": self.rng.choice(ALLERGIES) if self.rng.random() < 0.04 else "",
        }


def nhs_numbers(rng: Random) -> Iterator[str]:
    """Numbers of the test range in no order, none twice. Nine digits whose check digit would be 10 have no number."""
    for stem in rng.sample(range(999_000_001, 1_000_000_000), 20_000):
        digit = check_digit(str(stem))
        if digit < 10:
            yield f"{stem}{digit}"


def check_digit(stem: str) -> int:
    """Modulus 11 over weights 10 to 2; 10 means that there is no such number."""
    return -sum(int(digit) * weight for digit, weight in zip(stem, range(10, 1, -1), strict=True)) % 11


@cache
def _groups() -> list[dict[str, Any]]:
    groups: list[dict[str, Any]] = json.loads((settings.BASE_DIR / "fixtures/demo/names.json").read_text("utf-8"))
    return groups
