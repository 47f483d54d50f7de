"""A rule set changed in its day counts, and two rule sets side by side.

Only counts can be changed: of a follow-up its window and the minutes of its visit; of an activity its days; of the set
the days of the safety alert and of a fact that stays unknown. What counts from what, which gates lock what and what
must be seen in person are fixed, since a slip there would unlock a wound: they change with a new file of rules, read
by somebody who knows it. What is changed is read like any rule set, so that nothing unsound can come of it.
"""

from collections.abc import Iterator, Mapping
from copy import deepcopy
from enum import StrEnum
from typing import Any, Final, NamedTuple

from caseload.timetable.rule import LONGEST, ActivityRule, When
from caseload.timetable.rules import RuleSet
from caseload.timetable.terms import ActivityKind, Anchor, FollowUpKind

OF_SET: Final = ("safety_alert_day", "missing_fact_day")
OF_FOLLOW_UP: Final = ("earliest", "target", "latest", "minutes")
OF_ACTIVITY: Final = ("from", "aim", "until")
MAY_BE_EMPTY: Final = frozenset({"aim", "until"})
MOST: Final = {"minutes": 240, "safety_alert_day": 365, "missing_fact_day": 365}
"""The most that may be counted; two years of days for all others."""
Kind = FollowUpKind | ActivityKind


class Count(NamedTuple):
    """A number that may be changed: its place in the body such as `follow_ups.3.latest`, what it counts and now says.

    `kind`, `when` and `anchor` are of the rule it belongs to, all None for a number of the whole set.
    """

    place: str
    name: str
    value: int | None
    kind: Kind | None = None
    when: When | None = None
    anchor: Anchor | None = None

    @property
    def most(self) -> int:
        return MOST.get(self.name, LONGEST)

    @property
    def may_be_empty(self) -> bool:
        return self.name in MAY_BE_EMPTY


Said = int | bool | StrEnum | tuple[StrEnum, ...] | None
"""What a set says of something: a count, what a rule counts from, whether it is in person, its gates."""


class Line(NamedTuple):
    """One rule in two sets, what each says by name; None on the side that has no such rule."""

    kind: Kind | None
    when: When | None
    before: Mapping[str, Said] | None
    after: Mapping[str, Said] | None

    @property
    def changed(self) -> tuple[str, ...]:
        """What differs, in its order; all where one side has no such rule."""
        before, after = self.before or {}, self.after or {}
        alone = self.before is None or self.after is None
        return tuple(name for name in {**after, **before} if alone or before.get(name) != after.get(name))


def counts(rules: RuleSet) -> tuple[Count, ...]:
    """Every number that may be changed, in the order of the rules."""
    return tuple(_counts(rules, rules.to_json()))


def revised(rules: RuleSet, numbers: Mapping[str, int | None], version: str, sign_off: str = "") -> RuleSet:
    """The same rules with other numbers, by place, under another version.

    Raises KeyError for a place that is no count, and Refusal `unreadable` or `unsound-rules`, which name the rule and
    the field.
    """
    body = deepcopy(rules.to_json())
    places = {count.place for count in counts(rules)}
    for place, number in numbers.items():
        if place not in places:
            raise KeyError(place)
        _put(body, place.split("."), number)
    return RuleSet.from_json(body | {"version": version, "sign_off": sign_off or body["sign_off"]})


def sourced(before: RuleSet, after: RuleSet, source: str) -> RuleSet:
    """`after`, a revision of `before`, in which each rule with another number gives `source` for it: what was based on
    something else before is not any more."""
    body, was = after.to_json(), before.to_json()
    for name in ("follow_ups", "activities"):
        for rule, old in zip(body[name], was[name], strict=True):
            rule["source"] = rule["source"] if rule == old else source
    return RuleSet.from_json(body)


def side_by_side(before: RuleSet, after: RuleSet) -> tuple[Line, ...]:
    """Every rule of two sets: those of `after` in their order, then what only `before` has."""
    was, now = _by_rule(before), _by_rule(after)
    return tuple(Line(*rule, was.get(rule), now.get(rule)) for rule in now | was)


def _counts(rules: RuleSet, body: Mapping[str, Any]) -> Iterator[Count]:
    for name in OF_SET:
        yield Count(name, name, body[name])
    for place, rule in enumerate(rules.follow_ups):
        for name in OF_FOLLOW_UP:
            value = body["follow_ups"][place][name]
            yield Count(f"follow_ups.{place}.{name}", name, value, rule.kind, rule.when, rule.anchor)
    for place, activity in enumerate(rules.activities):
        own = body["activities"][place]
        for name in OF_ACTIVITY:
            yield Count(f"activities.{place}.{name}", name, own[name], *_of(activity))
        for number, term in enumerate(activity.not_before):
            where = f"activities.{place}.not_before.{number}.days"
            yield Count(where, f"not before, {term.anchor}", term.days, *_of(activity))


def _put(body: Any, steps: list[str], number: int | None) -> None:
    for step in steps[:-1]:
        body = body[int(step)] if step.isdecimal() else body[step]
    body[steps[-1]] = number


def _of(rule: ActivityRule) -> tuple[Kind, When, Anchor]:
    return rule.kind, rule.when, rule.anchor


def _by_rule(rules: RuleSet) -> dict[tuple[Kind | None, When | None], dict[str, Said]]:
    """What a set says by rule: its counts, and what only another file of rules changes."""
    found: dict[tuple[Kind | None, When | None], dict[str, Said]] = {}
    for count in counts(rules):
        found.setdefault((count.kind, count.when), {})[count.name] = count.value
    for rule in rules.follow_ups:
        found[rule.kind, rule.when] |= {"anchor": rule.anchor, "in_person": rule.in_person}
    for activity in rules.activities:
        found[activity.kind, activity.when] |= {"anchor": activity.anchor, "gates": activity.gates}
    return found
