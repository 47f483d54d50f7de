"""Random histories of episodes, for the properties that must hold of all of them.

Drawn as day numbers and put together afterwards: strategies that are made once draw many times faster.
"""

from dataclasses import replace
from datetime import date
from typing import Any

from hypothesis import strategies as st

from caseload.timetable.facts import Appointment, Done, EpisodeFacts, Finding, Instruction, SetReview
from caseload.timetable.terms import (
    ActivityKind,
    Digit,
    Ending,
    FindingKind,
    FollowUpKind,
    Outcome,
    Side,
    Source,
    Suture,
    Technique,
    WoundState,
)
from tests.timetable.builders import after

NAMES = [str(kind) for kind in FollowUpKind] + ["wound-recheck:f1", "set-review:v0"]
WINDOW_ITEMS = ["stitches-out", "wound-check", "outcome-review", "close"]

surgery_days = st.dates(date(2023, 6, 1), date(2027, 12, 31))
"""Over leap days, clock changes, bank holidays, and past the end of the holiday data."""
numbers = st.integers(0, 100)
later = st.none() | st.integers(0, 10)

findings = st.tuples(
    st.sampled_from(FindingKind),
    st.integers(0, 60),
    st.sampled_from(Source),
    later,
    later,
    st.sampled_from(WoundState),
    st.integers(0, 4),
    st.sampled_from([0, 0, 1, 2]),
    st.booleans(),
)
appointments = st.tuples(
    numbers,
    st.lists(st.sampled_from(NAMES), min_size=1, max_size=2, unique=True),
    st.none() | st.sampled_from(Outcome),
    later,
    st.booleans(),
    later,
)
windows = st.builds(
    lambda item, days, confirmed: Instruction(item, "the surgeon", "as planned", *sorted(days), confirmed=confirmed),
    st.sampled_from(WINDOW_ITEMS),
    st.tuples(*[st.integers(0, 60)] * 3),
    st.booleans(),
)
days_or_locks = st.builds(
    lambda item, day: Instruction(item, "the surgeon", "as planned", from_day=day, locked=day is None),
    st.sampled_from([str(kind) for kind in ActivityKind]),
    st.none() | st.integers(0, 60),
)
parts = {
    "findings": st.lists(findings, max_size=5),
    "reviews": st.lists(st.integers(1, 60), max_size=1),
    "instructions": st.lists(windows | days_or_locks, max_size=2, unique_by=lambda given: given.item),
    "appointments": st.lists(appointments, max_size=3),
    "done": st.lists(st.tuples(st.sampled_from(NAMES), numbers), max_size=2),
    "closed": st.none() | st.none() | st.none() | st.integers(0, 120),
}
facts = {
    "side": st.sampled_from([*Side, *Side, *Side, None]),
    "digit": st.sampled_from([*Digit, None]),
    "suture": st.sampled_from(Suture),
    "technique": st.sampled_from(Technique),
    "raised_risk": st.booleans(),
    "therapy_referral": st.booleans(),
    "stitches_in": st.none() | st.integers(1, 6),
    "born_on": st.none() | st.dates(date(1930, 1, 1), date(2015, 1, 1)),
    "closed_as": st.sampled_from(Ending),
}


def _episode(surgery_on: date, known: bool, parts: dict[str, Any], facts: dict[str, Any]) -> EpisodeFacts:
    def on(days: int | None) -> date | None:
        return None if days is None else after(days, surgery_on)

    closed_as = facts["closed_as"] if parts["closed"] is not None else None
    return EpisodeFacts(
        ref="e1",
        surgery_on=surgery_on if known else None,
        recorded_on=after(1, surgery_on),
        findings=tuple(_finding(surgery_on, f"f{place}", *said) for place, said in enumerate(parts["findings"])),
        reviews=tuple(SetReview("v0", after(20, surgery_on), days) for days in parts["reviews"]),
        instructions=tuple(parts["instructions"]),
        appointments=tuple(
            Appointment(after(days, surgery_on), tuple(serves), outcome, on(ended), approved, on(untold))
            for days, serves, outcome, ended, approved, untold in parts["appointments"]
        ),
        done=tuple(Done(name, after(days, surgery_on)) for name, days in parts["done"]),
        closed_on=on(parts["closed"]),
        **(facts | {"closed_as": closed_as}),
    )


def _finding(
    surgery_on: date,
    ref: str,
    kind: FindingKind,
    days: int,
    source: Source,
    recorded: int | None,
    signed: int | None,
    state: WoundState,
    out: int,
    left: int,
    sure: bool,
) -> Finding:
    on = after(days, surgery_on)
    recorded_on = None if recorded is None else after(recorded, on)
    signed_on = None if signed is None else after(signed, on)
    said = Finding(ref, kind, on, source, recorded_on, signed_on)
    if kind is FindingKind.STITCHES:
        return replace(said, out=out, left=left, confirmed_full=sure)
    if kind is FindingKind.WOUND:
        return replace(said, state=state)
    return replace(said, closed_on=signed_on) if kind is FindingKind.RED_FLAG else said


known = st.sampled_from([True] * 9 + [False])
episodes = st.builds(_episode, surgery_days, known, st.fixed_dictionaries(parts), st.fixed_dictionaries(facts))
"""Any episode; one in a few lacks a fact or is closed."""
