"""What the patient may do from when, and what keeps it locked. Common practice."""

from datetime import date

import pytest

from caseload.timetable.rules import RuleSet
from caseload.timetable.terms import ActivityKind, Lock, Suture, Technique, WoundState
from tests.timetable.builders import (
    REPORTED,
    after,
    codes,
    doing,
    episode,
    order,
    out_and_closed,
    plan,
    rule_body,
    stitches,
    the,
    trim_needed,
    trimmed,
    wound,
)

D5, D8, D10, D12, D14, D16, D20, D30 = (after(days) for days in (5, 8, 10, 12, 14, 16, 20, 30))
WOUND, OUT, TRIMMED = Lock.WOUND_CLOSED, Lock.STITCHES_OUT, Lock.TRIMMED
SEWN, DISSOLVING, UNSEWN, UNKNOWN = Suture.NON_ABSORBABLE, Suture.ABSORBABLE, Suture.NONE, Suture.UNKNOWN
OPEN, NEEDLE = Technique.OPEN, Technique.PERCUTANEOUS


def numbered(suture: Suture, technique: Technique, kind: str, **facts: object) -> tuple[object, ...]:
    """First, aimed-at and last day of an activity as day numbers, with its locks."""
    timetable = plan(episode(suture=suture, technique=technique, **facts))
    found = doing(timetable, ActivityKind(kind))
    days = (on and (on - after(0)).days for on in (found.from_on, found.aim_on, found.until_on))
    return (*days, found.locks)


@pytest.mark.parametrize("technique", Technique)
@pytest.mark.parametrize("suture", Suture)
@pytest.mark.parametrize(
    ("kind", "expected"),
    [
        ("hand-raised", (0, None, 3, ())),
        ("gentle-bending", (0, None, 14, ())),
        ("light-tasks", (0, None, None, ())),
        ("covered-shower", (0, None, None, ())),
        ("handfree-work", (1, 2, None, ())),
        ("light-manual-work", (7, None, None, ())),
        ("heavy-work", (21, None, None, (WOUND,))),
    ],
)
def test_what_is_the_same_for_everybody(
    suture: Suture, technique: Technique, kind: str, expected: tuple[object, ...]
) -> None:
    assert numbered(suture, technique, kind) == expected


@pytest.mark.parametrize(
    ("technique", "kind", "expected"),
    [
        (OPEN, "dressing-reduced", (2, 3, 5, ())),
        (NEEDLE, "dressing-reduced", (1, 3, 5, ())),
        (OPEN, "driving", (3, None, None, ())),
        (NEEDLE, "driving", (1, None, None, ())),
    ],
)
def test_what_the_technique_decides(technique: Technique, kind: str, expected: tuple[object, ...]) -> None:
    for suture in Suture:
        assert numbered(suture, technique, kind) == expected


@pytest.mark.parametrize(
    ("suture", "technique", "grip", "lifting"),
    [
        (SEWN, OPEN, 14, 21),
        (SEWN, NEEDLE, 14, 21),
        (DISSOLVING, NEEDLE, 14, 21),
        (UNKNOWN, NEEDLE, 14, 21),
        (UNSEWN, OPEN, 14, 21),
        (UNSEWN, NEEDLE, 7, 10),
    ],
)
def test_grip_and_lifting_come_early_only_after_a_needle_and_no_stitch(
    suture: Suture, technique: Technique, grip: int, lifting: int
) -> None:
    assert numbered(suture, technique, "tight-grip") == (grip, None, None, (WOUND,))
    assert numbered(suture, technique, "heavy-lifting") == (lifting, None, None, (WOUND,))


@pytest.mark.parametrize(
    ("suture", "kind", "expected"),
    [
        (SEWN, "scar-massage", (15, 16, None, (WOUND, OUT))),
        (UNKNOWN, "scar-massage", (15, 16, None, (WOUND, OUT))),
        (DISSOLVING, "scar-massage", (14, None, None, (WOUND,))),
        (UNSEWN, "scar-massage", (7, None, None, (WOUND,))),
        (SEWN, "passive-stretch", (15, 16, None, (WOUND, OUT))),
        (DISSOLVING, "passive-stretch", (14, None, None, (WOUND,))),
        (UNSEWN, "passive-stretch", (7, None, None, (WOUND,))),
        (SEWN, "soaking", (16, None, None, (WOUND, OUT))),
        (UNKNOWN, "soaking", (16, None, None, (WOUND, OUT))),
        (DISSOLVING, "soaking", (14, None, None, (WOUND,))),
        (UNSEWN, "soaking", (14, None, None, (WOUND,))),
    ],
)
def test_what_the_stitches_decide(suture: Suture, kind: str, expected: tuple[object, ...]) -> None:
    for technique in Technique:
        assert numbered(suture, technique, kind) == expected


@pytest.mark.parametrize(
    ("out_on", "massage", "stretch", "soaking"),
    [(10, (11, 12), (14, 14), 14), (12, (13, 14), (14, 14), 14), (16, (17, 18), (17, 18), 18)],
)
def test_the_latest_of_all_terms_wins(
    out_on: int, massage: tuple[int, int], stretch: tuple[int, int], soaking: int
) -> None:
    found = out_and_closed(after(out_on))
    assert numbered(SEWN, OPEN, "scar-massage", findings=found) == (*massage, None, ())
    assert numbered(SEWN, OPEN, "passive-stretch", findings=found) == (*stretch, None, ())
    assert numbered(SEWN, OPEN, "soaking", findings=found) == (soaking, None, None, ())


def test_the_term_that_decides_is_named_only_where_it_does() -> None:
    early, late = (plan(episode(findings=out_and_closed(on))) for on in (D10, D16))
    stretch, soaking = ActivityKind.PASSIVE_STRETCH, ActivityKind.SOAKING
    assert "not-before-decides" in codes(doing(early, stretch).reasons)
    assert "not-before-decides" not in codes(doing(late, stretch).reasons)
    assert "not-before-decides" in codes(doing(late, soaking).reasons)
    assert {"counted-surgery", "counted-stitches-out"} <= set(codes(doing(late, soaking).reasons))


def locks(*findings: object, suture: Suture = SEWN, kind: str = "scar-massage") -> tuple[Lock, ...]:
    return doing(plan(episode(findings=findings, suture=suture)), ActivityKind(kind)).locks


def why(*findings: object, suture: Suture = SEWN, kind: str = "scar-massage") -> set[str]:
    return set(codes(doing(plan(episode(findings=findings, suture=suture)), ActivityKind(kind)).reasons))


def test_a_gate_opens_with_its_finding() -> None:
    assert locks() == (WOUND, OUT)
    assert locks(stitches(D12)) == (WOUND,)
    assert locks(*out_and_closed(D12)) == ()
    assert locks(wound(D8), suture=UNSEWN) == ()


def test_a_report_opens_no_gate_until_somebody_here_has_looked() -> None:
    report = stitches(D12, source=REPORTED)
    assert locks(report) == (WOUND, OUT)
    assert locks(report, wound(D14, source=REPORTED)) == (WOUND, OUT)
    assert locks(report, wound(D14)) == ()
    assert locks(stitches(D12, source=REPORTED, countersigned_on=D14)) == (WOUND,)


@pytest.mark.parametrize("state", [WoundState.NOT_CLOSED, WoundState.CONCERN])
def test_a_wound_that_opens_locks_again_what_it_gates(state: WoundState) -> None:
    reopened = (*out_and_closed(D12), wound(D20, state, ref="w2"))
    for kind in ("scar-massage", "passive-stretch", "soaking", "tight-grip", "heavy-lifting", "heavy-work"):
        assert locks(*reopened, kind=kind) == (WOUND,)
    assert locks(*reopened, kind="light-manual-work") == ()
    assert locks(*reopened, wound(D30, ref="w3")) == ()


def test_ends_to_be_trimmed_lock_what_the_wound_gates() -> None:
    found = (wound(D14), trim_needed(D14))
    assert locks(*found, suture=DISSOLVING) == (TRIMMED,)
    assert locks(*found, suture=DISSOLVING, kind="heavy-work") == (TRIMMED,)
    assert locks(*found, suture=DISSOLVING, kind="driving") == ()
    assert locks(*found, trimmed(D16), suture=DISSOLVING) == ()
    assert locks(trim_needed(D14)) == (WOUND, OUT, TRIMMED)


@pytest.mark.parametrize(
    ("findings", "said", "unsaid"),
    [
        ((), {"wound-not-recorded", "removal-not-recorded"}, "stitches-still-in"),
        ((wound(D14, WoundState.CONCERN),), {"wound-not-closed"}, "wound-not-recorded"),
        ((wound(D14),), {"wound-held-by-stitches"}, "wound-not-recorded"),
        ((stitches(D12, 2, 2),), {"stitches-still-in"}, "counts-disagree"),
        ((stitches(D12, source=REPORTED),), {"removal-not-vouched-for"}, "removal-not-recorded"),
        ((*out_and_closed(D12), trim_needed(D12)), {"trim-pending"}, "wound-not-recorded"),
    ],
)
def test_a_lock_says_why(findings: tuple[object, ...], said: set[str], unsaid: str) -> None:
    assert said <= why(*findings) and unsaid not in why(*findings)


def test_an_open_gate_needs_no_reason() -> None:
    assert not {code for code in why(*out_and_closed(D12)) if "wound-" in code or "removal-" in code}


def test_counts_that_disagree_say_so_at_the_lock() -> None:
    timetable = plan(episode(findings=(stitches(D12, 2, 0),), stitches_in=4))
    assert "counts-disagree" in codes(doing(timetable, ActivityKind.SCAR_MASSAGE).reasons)


def test_the_day_itself_locks_until_it_comes() -> None:
    driving = doing(plan(episode()), ActivityKind.DRIVING)
    assert driving.locked_by(after(2)) == (Lock.DAY,) and driving.locked_by(after(3)) == ()
    massage = doing(plan(episode()), ActivityKind.SCAR_MASSAGE)
    assert massage.locked_by(after(3)) == (WOUND, OUT, Lock.DAY) and massage.locked_by(D30) == (WOUND, OUT)


ADULT_ONLY = {"driving", "handfree-work", "light-manual-work", "heavy-work"}


@pytest.mark.parametrize(
    ("born_on", "surgery_on", "child"),
    [
        (date(2010, 2, 4), date(2026, 2, 3), True),
        (date(2010, 2, 3), date(2026, 2, 3), False),
        (date(2012, 2, 29), date(2028, 2, 28), True),
        (date(2012, 2, 29), date(2028, 2, 29), False),
        (date(2011, 2, 28), date(2027, 2, 28), False),
        (date(1960, 1, 1), date(2026, 2, 3), False),
    ],
)
def test_under_16_there_is_no_driving_and_no_work(born_on: date, surgery_on: date, child: bool) -> None:
    kinds = {activity.kind for activity in plan(episode(surgery_on, born_on=born_on)).activities}
    assert not ADULT_ONLY & kinds if child else kinds >= ADULT_ONLY
    assert len(kinds) == (10 if child else 14)


def test_an_order_does_not_let_a_child_drive() -> None:
    facts = episode(born_on=date(2015, 1, 1), instructions=(order("driving", from_day=9),))
    assert ActivityKind.DRIVING not in {activity.kind for activity in plan(facts).activities}


def test_activities_come_in_the_order_of_the_trade() -> None:
    assert [activity.kind for activity in plan(episode()).activities] == list(ActivityKind)


def test_a_closed_episode_keeps_its_activities() -> None:
    assert len(plan(episode(closed_on=D30)).activities) == 14


def test_a_bank_holiday_moves_no_activity() -> None:
    timetable = plan(episode(date(2026, 4, 13)))
    assert doing(timetable, ActivityKind.HEAVY_LIFTING).from_on == date(2026, 5, 4)
    assert the(timetable, "stitches-out").proposed_on == date(2026, 4, 27)


def own_rule(kind: str, **fields: object) -> RuleSet:
    body = rule_body("two-week")
    rule = next(rule for rule in body["activities"] if rule["kind"] == kind)
    rule |= fields
    return RuleSet.from_json(body)


def test_a_trim_stands_in_the_way_of_a_wound_gate_only() -> None:
    rules = own_rule("heavy-work", gates=["stitches-out"])
    timetable = plan(episode(findings=(trim_needed(D14),)), rules=rules)
    assert doing(timetable, ActivityKind.HEAVY_WORK).locks == (OUT,)


def test_of_several_terms_each_is_named_and_the_latest_wins() -> None:
    terms = [{"anchor": "stitches-out", "days": 30}, {"anchor": "wound-closed", "days": 10}]
    soaking = own_rule("soaking", not_before=terms)
    found = doing(plan(episode(findings=(stitches(D12), wound(D14))), rules=soaking), ActivityKind.SOAKING)
    assert found.from_on == after(42)
    assert codes(found.reasons)[-4:] == [
        "counted-surgery",
        "counted-stitches-out",
        "not-before-decides",
        "counted-wound-closed",
    ]
