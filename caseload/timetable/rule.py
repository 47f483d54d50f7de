"""One rule: a follow-up or an activity, when it applies, and its days.

All days are calendar days counted from the anchor. They are defaults that a clinic's lead therapist and surgeon sign
off; a rule carries its source as text so that they can judge it.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product
from typing import Final, NamedTuple

from caseload.timetable.fields import Fields
from caseload.timetable.terms import ActivityKind, Anchor, FollowUpKind, Lock, Suture, Technique

LONGEST: Final = 730
"""The most days that a rule may count: two years."""


class Days(NamedTuple):
    """A window as days from an anchor, in order."""

    earliest: int
    target: int
    latest: int


class Combination(NamedTuple):
    """The facts that decide which rules apply."""

    suture: Suture
    technique: Technique
    raised_risk: bool
    therapy_referral: bool


def every_combination() -> Iterator[Combination]:
    return (Combination(*facts) for facts in product(Suture, Technique, (False, True), (False, True)))


@dataclass(frozen=True, slots=True)
class When:
    """When a rule applies. Empty or None means: whatever it is."""

    suture: tuple[Suture, ...] = ()
    technique: tuple[Technique, ...] = ()
    raised_risk: bool | None = None
    therapy_referral: bool | None = None

    @classmethod
    def from_json(cls, body: object, where: str) -> "When":
        fields = Fields(body, frozenset(cls.__slots__), where)
        return cls(
            suture=fields.words("suture", Suture),
            technique=fields.words("technique", Technique),
            raised_risk=fields.flag("raised_risk") if "raised_risk" in fields else None,
            therapy_referral=fields.flag("therapy_referral") if "therapy_referral" in fields else None,
        )

    def to_json(self) -> dict[str, object]:
        body: dict[str, object] = {"suture": list(self.suture), "technique": list(self.technique)}
        body |= {"raised_risk": self.raised_risk, "therapy_referral": self.therapy_referral}
        return {name: value for name, value in body.items() if value not in ([], None)}

    def applies(self, to: Combination) -> bool:
        return (
            (not self.suture or to.suture in self.suture)
            and (not self.technique or to.technique in self.technique)
            and self.raised_risk in (None, to.raised_risk)
            and self.therapy_referral in (None, to.therapy_referral)
        )


class NotBefore(NamedTuple):
    """A further term: not before so many days after another anchor. The latest of all terms wins."""

    anchor: Anchor
    days: int


@dataclass(frozen=True, slots=True)
class FollowUpRule:
    """A follow-up: its window in days from its anchor. `minutes` is 0 where no visit is needed."""

    kind: FollowUpKind
    when: When
    anchor: Anchor
    days: Days
    minutes: int
    in_person: bool
    source: str

    @classmethod
    def from_json(cls, body: object, where: str) -> "FollowUpRule":
        """Raises Refusal `unreadable`, which names the rule and the field."""
        fields = Fields(body, FOLLOW_UP_FIELDS, where)
        kind = fields.word("kind", FollowUpKind)
        fields.where = f"{where} ({kind})"
        return cls(
            kind=kind,
            when=fields.part("when", When.from_json, When()),
            anchor=fields.word("anchor", Anchor),
            days=_window(fields),
            minutes=fields.whole("minutes", 0, 240),
            in_person=fields.flag("in_person"),
            source=fields.text_or("source", ""),
        )

    def to_json(self) -> dict[str, object]:
        body: dict[str, object] = {"kind": str(self.kind), "when": self.when.to_json(), "anchor": str(self.anchor)}
        body |= self.days._asdict()
        return body | {"minutes": self.minutes, "in_person": self.in_person, "source": self.source}


@dataclass(frozen=True, slots=True)
class ActivityRule:
    """An activity: from which day, aimed at and until which, never before which, and behind which gates.

    `note` is a code that `caseload.wording` knows, or the clinic's own words.
    """

    kind: ActivityKind
    when: When
    anchor: Anchor
    from_day: int
    aim_day: int | None
    until_day: int | None
    not_before: tuple[NotBefore, ...]
    gates: tuple[Lock, ...]
    note: str
    source: str

    @classmethod
    def from_json(cls, body: object, where: str) -> "ActivityRule":
        """Raises Refusal `unreadable`, which names the rule and the field."""
        fields = Fields(body, ACTIVITY_FIELDS, where)
        kind = fields.word("kind", ActivityKind)
        fields.where = f"{where} ({kind})"
        from_day = fields.whole("from", 0, LONGEST)
        return cls(
            kind=kind,
            when=fields.part("when", When.from_json, When()),
            anchor=fields.word("anchor", Anchor),
            from_day=from_day,
            aim_day=fields.whole_or("aim", None, from_day, LONGEST),
            until_day=fields.whole_or("until", None, from_day, LONGEST),
            not_before=fields.each("not_before", _not_before),
            gates=_gates(fields),
            note=fields.text_or("note", ""),
            source=fields.text_or("source", ""),
        )

    def to_json(self) -> dict[str, object]:
        body: dict[str, object] = {"kind": str(self.kind), "when": self.when.to_json(), "anchor": str(self.anchor)}
        body |= {"from": self.from_day, "aim": self.aim_day, "until": self.until_day}
        body["not_before"] = [{"anchor": str(term.anchor), "days": term.days} for term in self.not_before]
        body["gates"] = [str(gate) for gate in self.gates]
        return body | {"note": self.note, "source": self.source}

    @property
    def anchors(self) -> set[Anchor]:
        return {self.anchor, *(term.anchor for term in self.not_before)}


FOLLOW_UP_FIELDS: Final = frozenset(
    {"kind", "when", "anchor", "earliest", "target", "latest", "minutes", "in_person", "source"}
)
ACTIVITY_FIELDS: Final = frozenset(
    {"kind", "when", "anchor", "from", "aim", "until", "not_before", "gates", "note", "source"}
)
GATES: Final = (Lock.WOUND_CLOSED, Lock.STITCHES_OUT)
"""The gates that a rule may name; a trim and an instruction lock by themselves."""


def _window(fields: Fields) -> Days:
    days = Days(*(fields.whole(name, 0, LONGEST) for name in Days._fields))
    if not days.earliest <= days.target <= days.latest:
        wrong = f"{days.earliest} / {days.target} / {days.latest} is out of order"
        advice = "the target is not before the earliest day, and the latest not before the target"
        raise fields.refusal("target", wrong, advice)
    return days


def _not_before(body: object, where: str) -> NotBefore:
    fields = Fields(body, frozenset(NotBefore._fields), where)
    return NotBefore(fields.word("anchor", Anchor), fields.whole("days", 0, LONGEST))


def _gates(fields: Fields) -> tuple[Lock, ...]:
    gates = fields.words("gates", Lock)
    for place, gate in enumerate(gates):
        if gate not in GATES:
            raise fields.refusal(f"gates[{place}]", f"“{gate}” is not a gate", f"give one of {', '.join(GATES)}")
    return tuple(gate for gate in GATES if gate in gates)
