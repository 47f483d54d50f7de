"""What ships as files beside the code: the two rule sets and the regions with their holidays."""

import json
from functools import cache
from typing import Any

from django.conf import settings

from caseload.timetable.regions import Region, region_named, regions_from_json
from caseload.timetable.rules import RuleSet

FIXTURES = settings.BASE_DIR / "fixtures"
RULE_SETS = ("two-week", "ten-to-fourteen")


@cache
def shipped_rules(name: str) -> RuleSet:
    return RuleSet.from_json(_read(f"rules/{name}.json"))


@cache
def shipped_regions() -> dict[str, Region]:
    return regions_from_json(_read("regions.json"))


def shipped_region(code: str) -> Region:
    """Raises Refusal `unknown-region`, which lists the known ones."""
    return region_named(shipped_regions(), code)


def _read(name: str) -> Any:
    return json.loads((FIXTURES / name).read_text(encoding="utf-8"))
