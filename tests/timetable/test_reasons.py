"""Every date explains itself: the reasons of a follow-up or an activity, with their values."""

from datetime import date
from typing import Any

import pytest

from caseload.timetable.calendar import Closed
from caseload.timetable.facts import Done, EpisodeFacts, SetReview
from caseload.timetable.plan import Reason
from caseload.timetable.regions import open_days
from caseload.timetable.rules import RuleSet
from caseload.timetable.terms import ActivityKind, Anchor, Ending, Source, Suture, Technique, WoundState
from tests.timetable.builders import (
    REGIONS,
    REPORTED,
    after,
    day,
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

D0, D12, D13, D14, D16, D20, D30 = (after(days) for days in (0, 12, 13, 14, 16, 20, 30))
RULES = ("Two weeks", "1")
SURGERY, OUT, CLOSED = Anchor.SURGERY, Anchor.STITCHES_OUT, Anchor.WOUND_CLOSED
SEWN, UNKNOWN, DISSOLVING, UNSEWN = Suture.NON_ABSORBABLE, Suture.UNKNOWN, Suture.ABSORBABLE, Suture.NONE
COUNTED = Reason("counted-surgery", (D0,))
NOT_RECORDED, NOT_OUT = Reason("wound-not-recorded"), Reason("removal-not-recorded")


def why(kind: str, facts: EpisodeFacts | None = None, **said: Any) -> tuple[Reason, ...]:
    """The reasons of a follow-up or an activity under freshly read rules."""
    timetable = plan(facts or episode(**said), rules=RuleSet.from_json(rule_body("two-week")))
    found = [each for each in timetable.follow_ups if kind in (each.kind, each.key)]
    return found[0].reasons if found else doing(timetable, ActivityKind(kind)).reasons


def rest(kind: str, **said: Any) -> tuple[Reason, ...]:
    """The reasons but those that the rule itself gives."""
    return tuple(reason for reason in why(kind, **said) if not reason.code.startswith("rule-"))


def test_a_follow_up_gives_its_rule_when_it_applies_and_its_anchor() -> None:
    assert why("stitches-out") == (
        Reason("rule-window", (*RULES, "stitches-out", 12, 14, 16, SURGERY)),
        Reason("rule-applies", ((SEWN,), (), False, None)),
        COUNTED,
    )
    assert why("stitches-out", raised_risk=True)[1] == Reason("rule-applies", ((SEWN,), (), True, None))
    assert why("outcome-review") == (Reason("rule-window", (*RULES, "outcome-review", 35, 42, 56, SURGERY)), COUNTED)


def test_the_technique_and_the_referral_are_conditions_too() -> None:
    check = why("wound-check", suture=UNSEWN, technique=Technique.PERCUTANEOUS)
    assert check[1] == Reason("rule-applies", ((UNSEWN,), (Technique.PERCUTANEOUS,), None, None))
    assert why("therapy-review", therapy_referral=True)[1] == Reason("rule-applies", ((SEWN,), (), None, True))


def test_a_condition_that_only_says_not_is_no_reason() -> None:
    body = rule_body("two-week")
    body["follow_ups"][-1]["when"] = {"raised_risk": False}
    body["follow_ups"].append(body["follow_ups"][-1] | {"when": {"raised_risk": True}})
    rules = RuleSet.from_json(body)
    for risk, count in ((False, 2), (True, 3)):
        assert len(the(plan(episode(raised_risk=risk), rules=rules), "close").reasons) == count


def test_an_unknown_suture_is_said_instead() -> None:
    assert why("wound-check", suture=UNKNOWN) == (
        Reason("rule-window", (*RULES, "wound-check", 12, 14, 16, SURGERY)),
        Reason("suture-unknown"),
        COUNTED,
    )
    assert Reason("suture-unknown") not in why("wound-check", suture=DISSOLVING)
    assert Reason("suture-unknown") not in why("therapy-review", suture=UNKNOWN, therapy_referral=True)


def test_an_activity_gives_its_rule_its_terms_its_anchors_and_its_locks() -> None:
    proposed = Reason("counted-provisional", (OUT, D14, "stitches-out", "proposed"))
    assert why("soaking") == (
        Reason("rule-day", (*RULES, "soaking", 14, SURGERY, None, None)),
        Reason("rule-not-before", (2, OUT)),
        Reason("rule-applies", ((SEWN, UNKNOWN), (), None, None)),
        COUNTED,
        proposed,
        Reason("not-before-decides", (2, OUT, D16)),
        NOT_RECORDED,
        NOT_OUT,
    )
    assert why("dressing-reduced")[0] == Reason("rule-day", (*RULES, "dressing-reduced", 2, SURGERY, 3, 5))
    assert why("light-tasks") == (Reason("rule-day", (*RULES, "light-tasks", 0, SURGERY, None, None)), COUNTED)


def test_only_a_later_term_decides() -> None:
    stretch = why("passive-stretch", findings=out_and_closed(D13))
    assert stretch[3:] == (Reason("counted-stitches-out", (D13, Source.SEEN)), COUNTED)
    decided = why("passive-stretch", findings=out_and_closed(D12))
    assert decided[-1] == Reason("not-before-decides", (14, SURGERY, D14))


def test_recorded_anchors_give_their_day_and_source() -> None:
    found = (stitches(D13, source=REPORTED), wound(D14))
    assert rest("therapy-review", therapy_referral=True, findings=found) == (
        Reason("counted-stitches-out", (D13, REPORTED)),
    )
    closed = wound(D14, source=REPORTED, countersigned_on=D16)
    assert rest("therapy-review", therapy_referral=True, suture=DISSOLVING, findings=(closed,)) == (
        Reason("counted-wound-closed", (D14, REPORTED)),
    )


def test_a_moved_day_gives_target_cause_day_number_and_tie() -> None:
    moved = why("stitches-out", episode(day("2025-12-18")))[-1]
    holiday = Reason("holiday", ("New Year's Day",))
    assert moved == Reason("moved", (day("2026-01-01"), holiday, day("2026-01-02"), 15, True))


def test_a_window_without_an_open_day_gives_its_ends_and_the_first_after() -> None:
    shut = open_days(REGIONS["GB-ENG"], (Closed(D12, D16),))
    follow_up = the(plan(episode(), calendar=shut), "stitches-out")
    assert follow_up.reasons[-1] == Reason("no-open-day", (D12, D16, after(17)))


def test_a_window_beyond_the_holidays_gives_what_is_known() -> None:
    known = (day("2020-01-01"), day("2027-12-31"))
    assert why("stitches-out", episode(day("2027-12-25")))[-2:] == (
        Reason("no-open-day", (day("2028-01-06"), day("2028-01-10"), None)),
        Reason("beyond-holiday-data", known),
    )
    assert Reason("beyond-holiday-data", known) not in why("stitches-out")


@pytest.mark.parametrize(
    ("kind", "facts", "reasons"),
    [
        ("stitches-recheck", {"findings": (stitches(D12, 2, 3),)}, [Reason("after-partial", (D12, 2, 3))]),
        (
            "wound-recheck",
            {"findings": (wound(D12, WoundState.CONCERN, source=REPORTED),)},
            [Reason("after-not-closed", (D12, WoundState.CONCERN, REPORTED))],
        ),
        ("wound-recheck", {"findings": (stitches(D12),)}, [Reason("after-removal", (D12, Source.SEEN))]),
        (
            "wound-recheck",
            {"findings": (stitches(D12, source=REPORTED, recorded_on=D14),)},
            [Reason("after-report", (D14, REPORTED))],
        ),
        ("wound-recheck", {"findings": (trim_needed(D12),)}, [Reason("after-trim-needed", (D12,))]),
        ("set-review", {"reviews": (SetReview("v1", D12, 9),)}, [Reason("set-review", (D12, 9))]),
        (
            "wound-recheck",
            {"findings": (wound(D12, WoundState.NOT_CLOSED), wound(D14, ref="w2"))},
            [Reason("after-not-closed", (D12, WoundState.NOT_CLOSED, Source.SEEN)), Reason("done-found", (D14,))],
        ),
        ("stitches-out", {"findings": (stitches(D14),)}, [COUNTED, Reason("done-removal", (D14, Source.SEEN))]),
        (
            "stitches-out",
            {"findings": (stitches(D14, source=REPORTED),)},
            [COUNTED, Reason("done-removal", (D14, REPORTED)), Reason("removal-not-vouched-for", (D14,))],
        ),
        (
            "stitches-out",
            {"findings": (stitches(D14, 2, 2),), "stitches_in": 4},
            [COUNTED, Reason("replaced-by-recheck", (D14,))],
        ),
        (
            "stitches-out",
            {"findings": (stitches(D14, 2, 0),), "stitches_in": 4},
            [COUNTED, Reason("counts-disagree", (4, 2)), Reason("replaced-by-recheck", (D14,))],
        ),
        ("stitches-out", {"done": (Done("stitches-out", D14),)}, [COUNTED, Reason("done-entered", (D14,))]),
        (
            "wound-check",
            {"suture": DISSOLVING, "findings": (wound(D14),)},
            [COUNTED, Reason("done-checked", (D14,))],
        ),
        (
            "wound-check",
            {
                "suture": DISSOLVING,
                "findings": (wound(D14, source=Source.PATIENT),),
                "done": (Done("wound-check", D14),),
            },
            [COUNTED, Reason("done-entered", (D14,))],
        ),
        (
            "wound-check",
            {"suture": DISSOLVING, "findings": (wound(D14), trim_needed(D13))},
            [COUNTED, Reason("trim-pending", (D13,))],
        ),
        (
            "close",
            {"closed_on": D30, "closed_as": Ending.TRANSFERRED},
            [COUNTED, Reason("episode-closed", (D30, Ending.TRANSFERRED))],
        ),
    ],
)
def test_what_caused_or_ended_a_follow_up(kind: str, facts: dict[str, Any], reasons: list[Reason]) -> None:
    said = [reason for reason in rest(kind, **facts) if reason.code != "moved"]
    assert said == reasons


@pytest.mark.parametrize(
    ("facts", "reasons"),
    [
        ({}, [NOT_RECORDED, NOT_OUT]),
        (
            {"findings": (wound(D14, WoundState.CONCERN),)},
            [Reason("wound-not-closed", (D14, WoundState.CONCERN)), NOT_OUT],
        ),
        ({"findings": (wound(D14),)}, [Reason("wound-held-by-stitches", (D14,)), NOT_OUT]),
        (
            {"findings": (stitches(D14, source=REPORTED),)},
            [NOT_RECORDED, Reason("removal-not-vouched-for", (D14,))],
        ),
        ({"findings": (stitches(D14, 1, 3),)}, [NOT_RECORDED, Reason("stitches-still-in", (D14, 3))]),
        (
            {"findings": (stitches(D14, 2, 0),), "stitches_in": 4},
            [NOT_RECORDED, Reason("counts-disagree", (4, 2)), Reason("stitches-still-in", (D14, 0))],
        ),
        ({"findings": (*out_and_closed(D14), trim_needed(D14))}, [Reason("trim-pending", (D14,))]),
        ({"findings": out_and_closed(D14)}, []),
    ],
)
def test_what_keeps_an_activity_locked(facts: dict[str, Any], reasons: list[Reason]) -> None:
    assert [reason for reason in rest("scar-massage", **facts) if not reason.code.startswith("counted-")] == reasons


def test_an_order_gives_who_why_and_that_it_waits_to_be_confirmed() -> None:
    given = order("driving", from_day=9, confirmed=False)
    by = ("the surgeon", "tendon repaired as well")
    assert why("driving", instructions=(given,)) == (
        Reason("ordered-day", (*by, 9)),
        Reason("ordered-unconfirmed", ("the surgeon",)),
        COUNTED,
    )


def test_trimmed_ends_are_no_reason_any_more() -> None:
    found = (wound(D14), trim_needed(D14), trimmed(D16))
    check = rest("wound-check", suture=DISSOLVING, findings=found)
    assert check == (COUNTED, Reason("done-checked", (D16,)))


def test_nothing_hangs_on_the_day_of_asking_but_what_is_provisional() -> None:
    late = the(plan(episode(therapy_referral=True), date(2026, 3, 20)), "therapy-review")
    assert Reason("counted-provisional", (OUT, date(2026, 3, 20), "stitches-out", "today")) in late.reasons
