"""Everything that deriving one timetable looks at, read once."""

from datetime import date
from typing import NamedTuple

from caseload.timetable.calendar import OpenDays
from caseload.timetable.entries import Entries, read_entries
from caseload.timetable.evidence import Evidence, read_evidence
from caseload.timetable.facts import EpisodeFacts
from caseload.timetable.orders import NO_ORDERS, Orders, read_orders
from caseload.timetable.plan import Reason
from caseload.timetable.rules import Choice, RuleSet
from caseload.timetable.terms import Anchor, FollowUpKind


class Counted(NamedTuple):
    """An anchor with its day, whether it is provisional, and where the day comes from."""

    anchor: Anchor
    on: date
    provisional: bool
    reasons: tuple[Reason, ...]


class Case(NamedTuple):
    """One episode on the desk: its facts, the rules that apply, the calendar, and what findings and entries say.

    `as_of` is the day before which an anchor that is not recorded cannot lie. `surgery` is the anchor that is there
    from the start, None while the surgery date is missing.
    """

    facts: EpisodeFacts
    rules: RuleSet
    calendar: OpenDays
    as_of: date
    choice: Choice
    evidence: Evidence
    orders: Orders
    entries: Entries
    surgery: Counted | None

    @classmethod
    def read(cls, facts: EpisodeFacts, rules: RuleSet, calendar: OpenDays, as_of: date) -> "Case":
        """Raises Refusal where an instruction cannot be used."""
        return cls(
            facts,
            rules,
            calendar,
            as_of,
            rules.choice_of(facts),
            read_evidence(facts),
            read_orders(facts.instructions) if facts.instructions else NO_ORDERS,
            read_entries(facts),
            _surgery(facts.surgery_on) if facts.surgery_on else None,
        )

    def is_touched(self, kind: FollowUpKind) -> bool:
        """Whether anything but the rules has a say in a follow-up that counts from surgery."""
        return self.facts.closed_on is not None or kind in self.orders or kind in self.entries.names


def _surgery(on: date) -> Counted:
    return Counted(Anchor.SURGERY, on, False, (Reason("counted-surgery", (on,)),))
