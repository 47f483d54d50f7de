"""When waits begin, stop or end otherwise, and why. The rules of counting are common practice."""

from datetime import date, timedelta
from typing import Any

import pytest
from hypothesis import given, settings

from caseload.timetable.evidence import read_evidence
from caseload.timetable.facts import EpisodeFacts, Finding
from caseload.timetable.plan import Reason
from caseload.timetable.terms import Outcome, Source, Suture, WoundState
from caseload.waits.clocks import Closed, Held, Operation, Request, Targets, Wait, Window, of_operation, of_referral
from caseload.waits.terms import Clock, End
from tests.timetable.builders import SURGERY, after, codes, day, episode, order, stitches, wound
from tests.timetable.histories import episodes

SET = Targets()
RECEIVED = day("2026-03-02")
MISSED, ATTENDED = Outcome.DID_NOT_ATTEND, Outcome.ATTENDED
CLINIC, PATIENT = Outcome.CANCELLED_BY_CLINIC, Outcome.CANCELLED_BY_PATIENT
NOT_CLOSED = WoundState.NOT_CLOSED


def mar(number: int) -> date:
    """A day of March 2026; 32 is 1 April."""
    return date(2026, 2, 28) + timedelta(days=number)


def both(*held: Held, visited: tuple[date, ...] = (), targets: Targets = SET, **said: Any) -> tuple[Wait, ...]:
    return of_referral(Request(RECEIVED, **said), held, visited, targets)


def first(*held: Held, **said: Any) -> Wait:
    return both(*held, **said)[0]


def offered(*held: Held, **said: Any) -> Wait:
    return both(*held, **said)[1]


def stood(wait: Wait) -> tuple[End, date | None]:
    return wait.ended, wait.stopped_on


def of(*findings: Finding, facts: dict[str, Any] | None = None, **said: Any) -> dict[str, Wait]:
    """The waits of an episode by their keys."""
    evidence = read_evidence(episode(findings=findings, **(facts or {})))
    return {
        wait.key: wait for wait in of_operation(Operation(**({"surgery_on": SURGERY} | said), evidence=evidence), SET)
    }


class TestFirstVisit:
    def test_it_runs_from_receipt_until_somebody_is_seen(self) -> None:
        assert stood(first()) == (End.WAITING, None)
        wait = first(Held(mar(12), mar(3), ATTENDED), Held(mar(20), mar(12)), visited=(mar(14),))
        assert (wait.started_on, *stood(wait)) == (RECEIVED, End.SEEN, mar(12))
        assert codes(wait.reasons) == ["received", "attended", "target"]
        assert codes(first().reasons) == ["received", "not-attended", "target"]

    def test_a_visit_counts_without_an_appointment_but_not_one_before_receipt(self) -> None:
        assert stood(first(visited=(mar(1), mar(9)))) == (End.SEEN, mar(9))
        assert stood(first(visited=(RECEIVED,))) == (End.SEEN, RECEIVED)
        assert stood(first(visited=(mar(1),))) == (End.WAITING, None)

    def test_its_target_depends_on_the_priority_and_on_what_is_set(self) -> None:
        assert first().due_on == mar(16)
        assert first(urgent=True).due_on == mar(9)
        assert first(targets=Targets(first_visit=None)).due_on is None

    def test_who_arrives_later_is_watched_from_then_on(self) -> None:
        wait = first(arrived_on=mar(10))
        assert (wait.started_on, wait.entered_on, wait.due_on) == (RECEIVED, mar(10), mar(16))
        assert Reason("arrived", (mar(10),)) in wait.reasons
        assert first(arrived_on=RECEIVED).entered_on is None
        assert "over-before-arrival" in codes(first(arrived_on=mar(10), visited=(mar(9),)).reasons)

    def test_cancellations_restart_nothing_and_are_said(self) -> None:
        wait = first(Held(mar(9), RECEIVED, PATIENT), Held(mar(11), mar(3), CLINIC), Held(mar(20), mar(3), ATTENDED))
        assert (wait.missed_on, wait.restarted_on) == (None, None)
        assert Reason("cancelled", (mar(9), mar(11))) in wait.reasons


class TestMissed:
    def test_the_last_missed_day_counts_with_the_day_of_the_next_booking(self) -> None:
        missed = Held(mar(6), RECEIVED, MISSED), Held(mar(20), mar(7), MISSED)
        wait = first(*missed, Held(mar(30), mar(23)))
        assert (wait.missed_on, wait.restarted_on) == (mar(20), mar(23))
        assert {"missed", "restarted"} <= set(codes(wait.reasons))
        wait = first(*missed)
        assert (wait.missed_on, wait.restarted_on) == (mar(20), None)
        assert "not-rebooked" in codes(wait.reasons)

    def test_one_that_was_booked_before_restarts_it_on_the_missed_day(self) -> None:
        assert first(Held(mar(20), mar(3), MISSED), Held(mar(30), mar(3))).restarted_on == mar(20)

    def test_one_that_was_cancelled_before_does_not_but_one_that_is_cancelled_after_does(self) -> None:
        missed, rebooked = Held(mar(20), mar(3), MISSED), Held(mar(34), mar(25))
        assert first(missed, Held(mar(30), mar(3), PATIENT, mar(10)), rebooked).restarted_on == mar(25)
        assert first(missed, Held(mar(30), mar(23), PATIENT, mar(24)), rebooked).restarted_on == mar(23)

    def test_who_comes_without_a_booking_restarts_it_on_that_day(self) -> None:
        assert first(Held(mar(20), mar(3), MISSED), visited=(mar(25),)).restarted_on == mar(25)

    def test_what_is_missed_or_booked_after_the_wait_does_not_count(self) -> None:
        seen = Held(mar(9), RECEIVED, ATTENDED)
        assert first(seen, Held(mar(20), mar(9), MISSED)).missed_on is None
        wait = first(Held(mar(6), RECEIVED, MISSED), Held(mar(30), mar(28)), ended=Closed(mar(9), "declined"))
        assert (wait.missed_on, wait.restarted_on, *stood(wait)) == (mar(6), None, End.DECLINED, mar(9))


class TestOffered:
    def test_it_stops_with_the_first_booking_from_receipt_on(self) -> None:
        wait = offered(Held(mar(20), mar(5), PATIENT), Held(mar(12), mar(9)))
        assert (*stood(wait), wait.due_on) == (End.SEEN, mar(5), None)
        assert codes(wait.reasons) == ["received", "booked", "no-target"]

    def test_one_that_was_booked_before_receipt_counts_once_it_is_attended(self) -> None:
        assert stood(offered(Held(mar(9), mar(1)))) == (End.WAITING, None)
        assert stood(offered(Held(mar(9), mar(1), ATTENDED))) == (End.SEEN, mar(9))
        assert offered(targets=Targets(offered=5)).due_on == mar(7)


class TestEnds:
    @pytest.mark.parametrize("how", ["declined", "discharged-unseen", "transferred", "died", "completed"])
    def test_a_referral_ends_otherwise_as_it_says(self, how: str) -> None:
        wait = first(ended=Closed(mar(9), how), visited=(mar(10),))
        assert (str(wait.ended), wait.stopped_on) == (how, mar(9))
        assert Reason("referral-ended", (mar(9), how)) in wait.reasons

    def test_who_is_seen_on_the_last_day_was_seen(self) -> None:
        assert stood(first(ended=Closed(mar(9), "completed"), visited=(mar(9),))) == (End.SEEN, mar(9))

    def test_it_ends_with_the_last_of_its_episodes_if_all_are_closed(self) -> None:
        closed = Closed(mar(9), "discharged"), Closed(mar(11), "referred-back")
        assert stood(first(episodes=closed)) == (End.REFERRED_BACK, mar(11))
        assert stood(first(episodes=(*closed, None))) == (End.WAITING, None)
        assert stood(first(episodes=closed, ended=Closed(mar(11), "completed"))) == (End.COMPLETED, mar(11))
        assert stood(first(episodes=(Closed(mar(9), "operation-not-done"),))) == (End.NOT_DONE, mar(9))

    def test_episodes_that_closed_before_receipt_end_it_on_its_first_day_and_that_is_said(self) -> None:
        wait = first(episodes=(Closed(mar(1), "discharged"),))
        assert stood(wait) == (End.DISCHARGED, RECEIVED)
        assert "stopped-early" in codes(wait.reasons)


class TestStitchesOut:
    window = Window(after(12), after(14), after(16))

    def test_it_runs_from_surgery_inside_its_window(self) -> None:
        wait = of(window=self.window)[Clock.STITCHES_OUT]
        assert (wait.started_on, wait.earliest_on, wait.target_on, wait.due_on) == (SURGERY, *self.window)
        assert codes(wait.reasons) == ["operated", "stitches-in", "window"]
        assert codes(of()[Clock.STITCHES_OUT].reasons)[-1] == "no-target"

    def test_a_full_removal_stops_it_whoever_reports_it(self) -> None:
        found = of(stitches(after(13), source=Source.REPORTED))[Clock.STITCHES_OUT]
        assert stood(found) == (End.SEEN, after(13))
        assert Reason("removed", (after(13), Source.REPORTED)) in found.reasons

    def test_stitches_that_are_left_or_found_later_keep_it_running(self) -> None:
        found = of(stitches(after(13)), stitches(after(20), 0, 1, "s2"))[Clock.STITCHES_OUT]
        assert stood(found) == (End.WAITING, None)
        assert Reason("stitches-left", (after(20), 1)) in found.reasons

    def test_it_ends_otherwise_as_the_episode_is_closed(self) -> None:
        found = of(closed=Closed(after(9), "transferred"))
        assert {stood(wait) for wait in found.values()} == {(End.TRANSFERRED, after(9))}

    def test_without_stitches_to_take_out_there_is_none_unless_they_were_ordered_out(self) -> None:
        none = {"suture": Suture.ABSORBABLE}
        assert set(of(facts=none)) == {Clock.WOUND_CLOSED}
        assert Clock.STITCHES_OUT in of(facts=none | {"instructions": (order("stitches-out"),)})


class TestWoundClosed:
    absorbable = {"suture": Suture.ABSORBABLE}

    def wait(self, *findings: Finding, **said: Any) -> Wait:
        return of(*findings, facts=self.absorbable, **said)[Clock.WOUND_CLOSED]

    def test_it_runs_from_surgery_to_the_first_closing(self) -> None:
        wait = self.wait(wound(after(12)), wound(after(14), ref="w2"))
        assert (wait.started_on, *stood(wait), wait.due_on) == (SURGERY, End.SEEN, after(12), after(21))

    def test_why_it_still_runs_is_said(self) -> None:
        assert "not-looked-at" in codes(self.wait().reasons)
        assert Reason("not-closed", (after(9), NOT_CLOSED)) in self.wait(wound(after(9), NOT_CLOSED)).reasons
        assert Reason("closing-held", (after(9),)) in of(wound(after(9)))[Clock.WOUND_CLOSED].reasons

    def test_a_wound_that_opens_again_starts_a_clock_of_its_own(self) -> None:
        found = of(
            wound(after(9), NOT_CLOSED), wound(after(12), ref="w2"), wound(after(20), NOT_CLOSED, "w3"),
            wound(after(22), NOT_CLOSED, "w4"), wound(after(25), ref="w5"), wound(after(30), NOT_CLOSED, "w6"),
            facts=self.absorbable, closed=Closed(after(40), "discharged"), arrived_on=after(15),
        )  # fmt: skip
        spells = [(key, wait.started_on, wait.entered_on, *stood(wait)) for key, wait in found.items()]
        assert spells == [
            ("wound-closed", SURGERY, after(15), End.SEEN, after(12)),
            ("wound-closed:w3", after(20), None, End.SEEN, after(25)),
            ("wound-closed:w6", after(30), None, End.DISCHARGED, after(40)),
        ]

    def test_what_is_found_closed_while_stitches_are_in_counts_only_once_they_are_out(self) -> None:
        early, removal = wound(after(10)), stitches(after(13))
        assert stood(of(early, removal)[Clock.WOUND_CLOSED]) == (End.WAITING, None)
        assert stood(of(early, removal, wound(after(13), ref="w2"))[Clock.WOUND_CLOSED]) == (End.SEEN, after(13))

    def test_a_closing_before_the_start_stops_it_on_that_day_and_says_so(self) -> None:
        wait = self.wait(wound(after(-2)))
        assert stood(wait) == (End.SEEN, SURGERY)
        assert "stopped-early" in codes(wait.reasons)

    @settings(max_examples=60)
    @given(episodes)
    def test_whether_the_last_clock_runs_is_what_the_findings_prove(self, facts: EpisodeFacts) -> None:
        evidence = read_evidence(facts)
        *_, last = of_operation(Operation(facts.surgery_on or SURGERY, evidence), SET)
        assert last.stopped_on == (max(evidence.closed.on, last.started_on) if evidence.closed else None)


@pytest.mark.parametrize("said", [{"surgery_on": None}, {"closed": Closed(SURGERY, "operation-not-done")}])
def test_without_an_operation_there_is_no_clock(said: dict[str, Any]) -> None:
    assert of(**said) == {}
