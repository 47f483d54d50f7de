"""Bodies of rule sets, changed for a test."""

import copy
from typing import Any

from tests.timetable.builders import rule_body

Body = dict[str, Any]


def without(body: Body, kind: str, **when: object) -> Body:
    """A copy of a body without the rules of a kind (that apply when)."""
    body = copy.deepcopy(body)
    for part in ("follow_ups", "activities"):
        body[part] = [rule for rule in body[part] if rule["kind"] != kind or not when.items() <= rule["when"].items()]
    return body


def changed(which: str, /, **fields: object) -> Body:
    """The shipped body with fields of the first rule of a kind changed."""
    body = rule_body("two-week")
    rule = next(rule for part in ("follow_ups", "activities") for rule in body[part] if rule["kind"] == which)
    rule |= fields
    return body
