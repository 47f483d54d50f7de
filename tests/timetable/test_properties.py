"""What must hold of every timetable, over random histories."""

import json
import random
from dataclasses import replace
from datetime import date, timedelta

from hypothesis import assume, given
from hypothesis import strategies as st

from caseload.exchange.episode_lines import read_episode
from caseload.timetable.activities import locks_of
from caseload.timetable.concerns import headline, owner_on, stretches
from caseload.timetable.evidence import is_vouched_for
from caseload.timetable.facts import FIRST_DAY, EpisodeFacts
from caseload.timetable.plan import Timetable
from caseload.timetable.regions import open_days
from caseload.timetable.standing import status
from caseload.timetable.terms import FindingKind, Headline, Lock, Source, Status, WoundState
from caseload.wording import sentence
from tests.exchange.said import episode_body
from tests.timetable.builders import ENGLAND, REGIONS, TEN_TO_FOURTEEN, TWO_WEEK, after, plan
from tests.timetable.histories import episodes

rule_sets = st.sampled_from([TWO_WEEK, TEN_TO_FOURTEEN])
days = st.dates(date(2023, 1, 1), date(2028, 12, 31))


@given(episodes, rule_sets, days)
def test_a_proposed_day_is_an_open_day_inside_its_window(facts: EpisodeFacts, rules: object, today: date) -> None:
    for each in plan(facts, today, rules).follow_ups:
        assert each.earliest_on <= each.target_on <= each.latest_on
        if each.proposed_on:
            assert each.earliest_on <= each.proposed_on <= each.latest_on and ENGLAND.is_open(each.proposed_on)
            assert each.first_after_on is None
        else:
            assert not ENGLAND.open_days(each.earliest_on, each.latest_on)
            assert each.first_after_on is None or each.first_after_on > each.latest_on


@given(episodes, days)
def test_no_open_day_inside_the_window_is_nearer_the_target(facts: EpisodeFacts, today: date) -> None:
    for each in plan(facts, today).follow_ups:
        if each.proposed_on:
            distance = abs(each.proposed_on - each.target_on)
            inside = ENGLAND.open_days(each.earliest_on, each.latest_on)
            assert all(abs(on - each.target_on) >= distance for on in inside)


@given(episodes, days)
def test_a_gate_opens_by_a_finding_and_never_by_days(facts: EpisodeFacts, today: date) -> None:
    closings = [
        each
        for each in facts.findings
        if each.kind is FindingKind.WOUND and each.state is WoundState.CLOSED and is_vouched_for(each)
    ]
    for activity in plan(facts, today).activities:
        gated = any(Lock.WOUND_CLOSED in _gates(rule) for rule in TWO_WEEK.activities if rule.kind is activity.kind)
        if gated and not closings:
            assert Lock.WOUND_CLOSED in activity.locks and Lock.WOUND_CLOSED in activity.locked_by(date.max)


def _gates(rule: object) -> tuple[Lock, ...]:
    return rule.gates  # type: ignore[attr-defined, no-any-return]


@given(episodes, days, days)
def test_no_passing_of_days_changes_a_lock(facts: EpisodeFacts, one: date, other: date) -> None:
    first, second = plan(facts, one), plan(facts, other)
    assert [each.locks for each in first.activities] == [each.locks for each in second.activities]


@given(episodes, days)
def test_the_last_word_that_a_wound_is_not_closed_locks_the_gate(facts: EpisodeFacts, today: date) -> None:
    assume(facts.surgery_on)
    spoken = [each for each in facts.findings if each.kind is FindingKind.WOUND and each.source is not Source.PATIENT]
    if spoken:
        last = max(spoken, key=lambda finding: (finding.on, finding.recorded_on or finding.on))
        if last.state is not WoundState.CLOSED:
            assert any(Lock.WOUND_CLOSED in activity.locks for activity in plan(facts, today).activities)


@given(episodes, days)
def test_the_patients_word_changes_nothing_but_a_red_flag(facts: EpisodeFacts, today: date) -> None:
    heard = [each for each in facts.findings if each.source is not Source.PATIENT or each.kind is FindingKind.RED_FLAG]
    assert plan(facts, today) == plan(replace(facts, findings=tuple(heard)), today)


@given(episodes, rule_sets, days)
def test_deriving_is_a_pure_function_of_its_inputs(facts: EpisodeFacts, rules: object, today: date) -> None:
    once, again = (plan(each, today, rules, ENGLAND) for each in (facts, replace(facts)))
    assert once == again == plan(facts, today, rules)


@given(episodes, st.randoms(use_true_random=False))
def test_findings_count_by_their_days_whatever_order_they_come_in(facts: EpisodeFacts, chance: random.Random) -> None:
    assume(len({finding.on for finding in facts.findings}) == len(facts.findings))
    shuffled = list(facts.findings)
    chance.shuffle(shuffled)
    assert plan(facts) == plan(replace(facts, findings=tuple(shuffled)))


@given(episodes, days)
def test_only_what_is_provisional_depends_on_the_day(facts: EpisodeFacts, today: date) -> None:
    stored, shown = plan(facts, FIRST_DAY), plan(facts, today)
    assert _firm(stored) == _firm(shown)
    assert [each.key for each in stored.follow_ups] == [each.key for each in shown.follow_ups]
    for each in shown.follow_ups:
        assert not each.provisional or each.anchor_on >= today


def _firm(timetable: Timetable) -> tuple[object, ...]:
    follow_ups = [each for each in timetable.follow_ups if not each.provisional]
    activities = [each for each in timetable.activities if not each.provisional]
    return timetable.safety_from, follow_ups, activities


@given(episodes, days)
def test_what_is_provisional_is_never_late(facts: EpisodeFacts, today: date) -> None:
    for each in plan(facts, FIRST_DAY).follow_ups:
        assert not each.provisional or status(each, today) is not Status.LATE


@given(episodes)
def test_nobody_is_lost(facts: EpisodeFacts) -> None:
    timetable = plan(facts, FIRST_DAY)
    if not facts.is_open:
        assert timetable.next_step is None and timetable.concerns == ()
    elif timetable.next_step is None:
        assert Headline.NO_NEXT_STEP in [each.headline for each in timetable.concerns]
    else:
        assert timetable.next_step.owner


@given(episodes, days)
def test_a_closed_episode_has_nothing_due(facts: EpisodeFacts, today: date) -> None:
    closed = plan(replace(facts, closed_on=today))
    assert not any(each.is_due for each in closed.follow_ups) and stretches(closed) == ()


@given(episodes, st.lists(st.integers(-5, 150), min_size=5, max_size=20))
def test_stretches_partition_time_and_agree_with_the_headline(facts: EpisodeFacts, offsets: list[int]) -> None:
    timetable = plan(facts, FIRST_DAY)
    parts = stretches(timetable)
    begins_on = timetable.surgery_on or FIRST_DAY
    for on in [after(days, timetable.surgery_on or date(2026, 1, 1)) for days in offsets]:
        covering = [part for part in parts if part.from_on <= on and (part.until_on is None or on < part.until_on)]
        assert len(covering) == (1 if timetable.is_open and on >= begins_on else 0)
        found = headline(timetable.concerns, on)
        for part in covering:
            assert part.headline == (found and found.headline) and part.owner == (found and owner_on(found, on))
            assert (part.follow_up, part.due_on) == ((found.follow_up, found.due_on) if found else (None, None))


@given(episodes)
def test_stretches_follow_one_another_and_differ(facts: EpisodeFacts) -> None:
    parts = stretches(plan(facts, FIRST_DAY))
    assert all(one.until_on == other.from_on for one, other in zip(parts, parts[1:], strict=False))
    assert all(one[2:] != other[2:] for one, other in zip(parts, parts[1:], strict=False))
    assert not parts or parts[-1].until_on is None


@given(episodes, st.integers(1, 200))
def test_no_headline_before_the_surgery(facts: EpisodeFacts, ahead: int) -> None:
    if facts.surgery_on:
        assert headline(plan(facts, FIRST_DAY).concerns, after(-ahead, facts.surgery_on)) is None


@given(episodes)
def test_once_it_stands_a_concern_never_ends_by_itself(facts: EpisodeFacts) -> None:
    concerns = plan(facts, FIRST_DAY).concerns
    turns = sorted({each.from_on for each in concerns})
    found = [headline(concerns, on) for on in turns]
    assert all(found) and all(found[place] in concerns for place in range(len(found)))


@given(episodes, days, rule_sets)
def test_every_reason_has_a_sentence(facts: EpisodeFacts, today: date, rules: object) -> None:
    timetable = plan(facts, today, rules)
    for each in (*timetable.follow_ups, *timetable.activities):
        assert each.reasons
        for reason in each.reasons:
            assert sentence(reason).endswith(".")


@given(episodes)
def test_facts_survive_being_written_and_read(facts: EpisodeFacts) -> None:
    assert read_episode(json.dumps(episode_body(facts)).encode()) == facts


@given(episodes, st.integers(1, 400))
def test_nothing_but_the_dates_moves_with_the_surgery_in_a_week_without_holidays(
    facts: EpisodeFacts, weeks: int
) -> None:
    every_day = open_days(REGIONS["GB-ENG"], weekdays=frozenset(range(7)))
    assume(facts.surgery_on)
    plain = replace(facts, findings=(), appointments=(), reviews=(), done=(), closed_on=None, born_on=None)
    moved = replace(plain, surgery_on=plain.surgery_on + timedelta(weeks=weeks % 20))
    lengths = [
        [(each.earliest_on - each.anchor_on).days for each in plan(one, FIRST_DAY, calendar=every_day).follow_ups]
        for one in (plain, moved)
    ]
    assert lengths[0] == lengths[1]


@given(episodes, rule_sets, days)
def test_the_locks_for_a_list_are_those_of_the_timetable(facts: EpisodeFacts, rules: object, today: date) -> None:
    assume(facts.surgery_on)  # without it there are no days, yet locks that hold the hand
    derived = {each.kind: each.locks for each in plan(facts, today, rules).activities if each.locks}
    assert locks_of(facts, rules) == derived
