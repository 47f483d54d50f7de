"""A rule set: the signed-off day counts of a clinic under a name and a version, read, checked and chosen from.

An episode is pinned to the version it was opened under. The digest stands for the whole body, so that two versions that
say the same are known to be the same.
"""

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final, NamedTuple

from caseload.errors import Refusal
from caseload.timetable.facts import EpisodeFacts
from caseload.timetable.fields import Fields
from caseload.timetable.plan import Reason
from caseload.timetable.rule import ActivityRule, Combination, FollowUpRule, every_combination
from caseload.timetable.soundness import check_activity, check_alert, check_combination, check_rule
from caseload.timetable.terms import Anchor, FollowUpKind, Suture

SHAPE: Final = 1
"""The shape of the JSON body that is written now; earlier ones are still read."""
SUTURES: Final = {1: frozenset({Suture.NON_ABSORBABLE, Suture.ABSORBABLE, Suture.NONE, Suture.UNKNOWN})}
"""The types that a body of each shape names. Of one that came later it says nothing, so that is derived as if nobody
had recorded it: no day for taking stitches out is made up and a wound check is held."""


@dataclass(frozen=True, slots=True, eq=False)
class AppliedFollowUp:
    """A rule with the reasons that are the same for everybody it applies to. Compared by identity: a quick key."""

    rule: FollowUpRule
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True, eq=False)
class AppliedActivity:
    """The same for an activity."""

    rule: ActivityRule
    reasons: tuple[Reason, ...]


class Choice(NamedTuple):
    """The rules that apply to one combination of facts: follow-ups by kind, activities in their order.

    `hanging` are the activities that count from more than surgery, each with its place among all; `steady` are the
    others. `anchors` are all that any rule counts from.
    """

    follow_ups: dict[FollowUpKind, AppliedFollowUp]
    steady: tuple[AppliedActivity, ...]
    hanging: tuple[tuple[int, AppliedActivity], ...]
    anchors: frozenset[Anchor]


@dataclass(frozen=True)
class RuleSet:
    """All rules of one version. `choices` holds what applies to each combination, worked out once."""

    name: str
    version: str
    title: str
    sign_off: str
    safety_alert_day: int
    missing_fact_day: int
    follow_ups: tuple[FollowUpRule, ...]
    activities: tuple[ActivityRule, ...]
    shape: int = SHAPE
    choices: dict[Combination, Choice] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Raises Refusal `unsound-rules`."""
        for place, rule in enumerate(self.follow_ups):
            check_rule(rule, f"follow_ups[{place}]", SUTURES[self.shape])
        for place, activity in enumerate(self.activities):
            check_activity(activity, f"activities[{place}]", SUTURES[self.shape])
        check_alert(self.safety_alert_day, self.follow_ups)
        follow_ups = [AppliedFollowUp(rule, self._follow_up_reasons(rule)) for rule in self.follow_ups]
        activities = [AppliedActivity(rule, self._activity_reasons(rule)) for rule in self.activities]
        choices = {
            to: _choose(to, follow_ups, activities) for to in every_combination() if to.suture in SUTURES[self.shape]
        }
        unnamed = {to: _unnamed(choices[to._replace(suture=Suture.UNKNOWN)]) for to in every_combination()}
        object.__setattr__(self, "choices", unnamed | choices)

    @classmethod
    def from_json(cls, body: Mapping[str, object]) -> "RuleSet":
        """Raises Refusal `unreadable` or `unsound-rules`, which names the rule and the field."""
        fields = Fields(body, FIELDS)
        shape = fields.whole("shape", 1, 1_000)
        if shape not in SUTURES:
            raise fields.refusal("shape", "this planner cannot read it", f"give a rule set of shape {SHAPE}")
        return cls(
            name=fields.text("name"),
            version=fields.text("version"),
            title=fields.text("title"),
            sign_off=fields.text_or("sign_off", ""),
            safety_alert_day=fields.whole("safety_alert_day", 1, 365),
            missing_fact_day=fields.whole("missing_fact_day", 0, 365),
            follow_ups=fields.each("follow_ups", FollowUpRule.from_json),
            activities=fields.each("activities", ActivityRule.from_json),
            shape=shape,
        )

    def to_json(self) -> dict[str, Any]:
        """The body that `from_json` reads back to an equal rule set."""
        return {
            "shape": self.shape,
            "name": self.name,
            "version": self.version,
            "title": self.title,
            "sign_off": self.sign_off,
            "safety_alert_day": self.safety_alert_day,
            "missing_fact_day": self.missing_fact_day,
            "follow_ups": [rule.to_json() for rule in self.follow_ups],
            "activities": [rule.to_json() for rule in self.activities],
        }

    def __str__(self) -> str:
        return f"{self.name} {self.version}"

    def choice_of(self, facts: EpisodeFacts) -> Choice:
        """What applies to an episode."""
        # A plain tuple is as good a key as a Combination, and made quicker.
        return self.choices[facts.suture, facts.technique, facts.raised_risk, facts.therapy_referral]  # type: ignore[index]

    def visit_of(self, kind: FollowUpKind) -> FollowUpRule:
        """The first rule of a kind: what visit it needs where an instruction orders it and no rule applies.

        Raises Refusal `no-such-follow-up`.
        """
        for rule in self.follow_ups:
            if rule.kind is kind:
                return rule
        raise Refusal("no-such-follow-up", f"The rules “{self.title}” say nothing of {kind}.", kind=kind)

    def _follow_up_reasons(self, rule: FollowUpRule) -> tuple[Reason, ...]:
        days = Reason("rule-window", (self.title, self.version, rule.kind, *rule.days, rule.anchor))
        if rule.kind is FollowUpKind.WOUND_CHECK and rule.when.suture == (Suture.UNKNOWN,):
            return (days, Reason("suture-unknown"))
        return (days, *_applying(rule))

    def _activity_reasons(self, rule: ActivityRule) -> tuple[Reason, ...]:
        day = (self.title, self.version, rule.kind, rule.from_day, rule.anchor, rule.aim_day, rule.until_day)
        terms = [Reason("rule-not-before", (term.days, term.anchor)) for term in rule.not_before]
        return (Reason("rule-day", day), *terms, *_applying(rule))


FIELDS: Final = frozenset({
    "shape", "name", "version", "title", "sign_off", "safety_alert_day", "missing_fact_day", "follow_ups", "activities",
})  # fmt: skip


def rule_set_digest(rules: RuleSet) -> str:
    """SHA-256 of the body in canonical JSON, as 64 hexadecimal digits."""
    body = json.dumps(rules.to_json(), sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(body.encode()).hexdigest()


def _choose(to: Combination, follow_ups: Sequence[AppliedFollowUp], activities: Sequence[AppliedActivity]) -> Choice:
    """What applies to a combination. Raises Refusal `unsound-rules`."""
    due = [applied for applied in follow_ups if applied.rule.when.applies(to)]
    allowed = [applied for applied in activities if applied.rule.when.applies(to)]
    check_combination(to, [applied.rule for applied in due], [applied.rule for applied in allowed])
    return Choice(
        {applied.rule.kind: applied for applied in due},
        tuple(applied for applied in allowed if applied.rule.anchors == {Anchor.SURGERY}),
        tuple((place, applied) for place, applied in enumerate(allowed) if applied.rule.anchors != {Anchor.SURGERY}),
        frozenset(applied.rule.anchor for applied in due).union(*(applied.rule.anchors for applied in allowed)),
    )


def _unnamed(unknown: Choice) -> Choice:
    """What applies to a suture that the rules do not name: what does to an unknown one, and why in other words."""
    other = {Reason("suture-unknown"): Reason("suture-unnamed")}
    follow_ups = {
        kind: AppliedFollowUp(applied.rule, tuple(other.get(reason, reason) for reason in applied.reasons))
        for kind, applied in unknown.follow_ups.items()
    }
    return unknown._replace(follow_ups=follow_ups)


def _applying(rule: FollowUpRule | ActivityRule) -> tuple[Reason, ...]:
    when = rule.when
    conditions = (*when.suture, *when.technique, when.raised_risk, when.therapy_referral)
    if all(condition in (None, False) for condition in conditions):
        return ()
    return (Reason("rule-applies", (when.suture, when.technique, when.raised_risk, when.therapy_referral)),)
